"""ISO 532-1:2017, Zwicker's method, for stationary sounds."""
