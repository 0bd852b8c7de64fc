"""Charts as SVG: what was answered and advised over the days. Told apart by shape and by words,
never by colour. Read next: `shapes`, then `course`."""
