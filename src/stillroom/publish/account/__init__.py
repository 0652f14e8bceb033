"""The account: what a release may say in words, one true sentence after the other."""
