"""A lab's own tables and its file of rigs: fans, runs, instruments, nozzles."""
