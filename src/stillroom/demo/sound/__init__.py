"""The quiet room of the invented laboratory: how its fans sound, and recordings as they would come.

Its physics is its own, as the chamber's is: closed forms for levels, tones and resonances, noise drawn in
the frequency domain, tones by the phase of the shaft.
"""
