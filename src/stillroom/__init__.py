"""Stillroom: from the raw exports of a fan bench to charts that a laboratory would defend in public."""
