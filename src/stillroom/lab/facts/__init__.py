"""What the rules of quality are told: facts of runs, mountings, fans, obstacles and rigs."""
