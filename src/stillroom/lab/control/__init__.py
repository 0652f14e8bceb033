"""Control behaviour in the lab: its nodes, its work, its rankings."""
