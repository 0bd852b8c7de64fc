"""How long a test waits for another process or thread: on a busy machine, too, it has long come.

Only a defect waits it out, so that a generous bound costs nothing.
"""

from __future__ import annotations

PATIENCE_SECONDS = 120.0
PATIENCE_MS = 1000 * PATIENCE_SECONDS
