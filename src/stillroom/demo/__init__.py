"""An invented laboratory: it writes raw exports as real rigs would and keeps the truth apart.

Fans, makers, shops, prices and people are made up. Its physics is its own and shares nothing with the
calculation rooms, so that an error there can't be cancelled by the same error here.
"""
