"""The tables of ISO 532-1:2017, Annex A, as printed.

As transcribed in mosqito 1.2.1 (`sq_metrics/loudness/loudness_zwst/`, which cites Zwicker, Fastl, Widmann,
Kurakata, Kuwano, Namba, J. Acoust. Soc. Jpn. (E) 12, 1 (1991) and the program printed with the standard); the
standard itself was not at hand. The numbers of the tables are given as there or from memory.
"""

from __future__ import annotations

import numpy as np

CENTRES = (
    *(25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0),
    *(630.0, 800.0, 1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3150.0, 4000.0, 5000.0, 6300.0, 8000.0),
    *(10000.0, 12500.0),
)
"""Nominal centre frequencies of the 28 one-third-octave bands [Hz]."""

# Table A.3: upper ends of the ranges of level [dB] and the weights that go with them, 25 Hz to 250 Hz.
RAP = np.array([45.0, 55.0, 65.0, 71.0, 80.0, 90.0, 100.0, 120.0])
DLL = np.array(
    [
        (-32, -24, -16, -10, -5, 0, -7, -3, 0, -2, 0),
        (-29, -22, -15, -10, -4, 0, -7, -2, 0, -2, 0),
        (-27, -19, -14, -9, -4, 0, -6, -2, 0, -2, 0),
        (-25, -17, -12, -9, -3, 0, -5, -2, 0, -2, 0),
        (-23, -16, -11, -7, -3, 0, -4, -1, 0, -1, 0),
        (-20, -14, -10, -6, -3, 0, -4, -1, 0, -1, 0),
        (-18, -12, -9, -6, -2, 0, -3, -1, 0, -1, 0),
        (-15, -10, -8, -4, -2, 0, -3, -1, 0, -1, 0),
    ],
    dtype=np.float64,
)
# Table A.4: transmission of the ear [dB].
A0 = np.array([*[0] * 10, -0.5, -1.6, -3.2, -5.4, -5.6, -4, -1.5, 2, 5, 12], dtype=np.float64)
# Table A.5: diffuse field against free field [dB].
DDF = np.array(
    [*(0, 0, 0.5, 0.9, 1.2, 1.6, 2.3, 2.8, 3, 2), *(0, -1.4, -2, -1.9, -1, 0.5, 3, 4, 4.3, 4)],
    dtype=np.float64,
)
# Table A.6: threshold in quiet of each critical band [dB].
LTQ = np.array([30, 18, 12, 8, 7, 6, 5, 4, *[3] * 12], dtype=np.float64)
# Table A.7: one-third-octave against critical-band level [dB].
DCB = np.array(
    [
        *(-0.25, -0.6, -0.8, -0.8, -0.5, 0, 0.5, 1.1, 1.5, 1.7),
        *(1.8, 1.8, 1.7, 1.6, 1.4, 1.2, 0.8, 0.5, 0, -0.5),
    ]
)
# Table A.8: upper limits of the critical bands on the scale of critical-band rate.
ZUP = np.array(
    [
        *(0.9, 1.8, 2.8, 3.5, 4.4, 5.4, 6.6, 7.9, 9.2, 10.6, 12.3),
        *(13.8, 15.2, 16.7, 18.1, 19.3, 20.6, 21.8, 22.7, 23.6, 24.0),
    ]
)
# Table A.9: ranges of specific loudness and the steepness of the upper slopes in each, by critical band.
RNS = np.array(
    [
        *(21.5, 18, 15.1, 11.5, 9, 6.1, 4.4, 3.1, 2.13, 1.36, 0.82),
        *(0.42, 0.30, 0.22, 0.15, 0.10, 0.035, 0),
    ]
)
USL = np.array(
    [
        (13, 8.2, 6.3, 5.5, 5.5, 5.5, 5.5, 5.5),
        (9, 7.5, 6, 5.1, 4.5, 4.5, 4.5, 4.5),
        (7.8, 6.7, 5.6, 4.9, 4.4, 3.9, 3.9, 3.9),
        (6.2, 5.4, 4.6, 4.0, 3.5, 3.2, 3.2, 3.2),
        (4.5, 3.8, 3.6, 3.2, 2.9, 2.7, 2.7, 2.7),
        (3.7, 3.0, 2.8, 2.35, 2.2, 2.2, 2.2, 2.2),
        (2.9, 2.3, 2.1, 1.9, 1.8, 1.7, 1.7, 1.7),
        (2.4, 1.7, 1.5, 1.35, 1.3, 1.3, 1.3, 1.3),
        (1.95, 1.45, 1.3, 1.15, 1.1, 1.1, 1.1, 1.1),
        (1.5, 1.2, 0.94, 0.86, 0.82, 0.82, 0.82, 0.82),
        (0.72, 0.67, 0.64, 0.63, 0.62, 0.62, 0.62, 0.62),
        (0.59, 0.53, 0.51, 0.50, 0.42, 0.42, 0.42, 0.42),
        (0.40, 0.33, 0.26, 0.24, 0.24, 0.22, 0.22, 0.22),
        (0.27, 0.21, 0.20, 0.18, 0.17, 0.17, 0.17, 0.17),
        (0.16, 0.15, 0.14, 0.12, 0.11, 0.11, 0.11, 0.11),
        (0.12, 0.11, 0.10, 0.08, 0.08, 0.08, 0.08, 0.08),
        (0.09, 0.08, 0.07, 0.06, 0.06, 0.06, 0.06, 0.05),
        (0.06, 0.05, 0.03, 0.02, 0.02, 0.02, 0.02, 0.02),
    ]
)
