"""Heat in the lab: which log is which run of which fan, what hangs on what, and the work itself."""
