"""One patient's course as a page for the notes or a referral. Read next: `gather`, then `page`."""
