"""The invented laboratory's control runs: how fans answer to duty and voltage, how they start, what they draw."""
