"""Control behaviour: from staircases, start attempts and records of current to how a fan answers its control."""
