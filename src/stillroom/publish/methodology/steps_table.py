"""The steps from readings to results in words, each with its source and with when it was done.

docs/methods.md has the same steps under the same names; a test holds the sources against it. Only the steps that a
lab's data went through are written.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

from stillroom.publish.methodology import cited
from stillroom.publish.methodology import steps_done as done
from stillroom.publish.methodology.cited import Cited
from stillroom.publish.methodology.facts import Facts

OUR_CHOICE = "our choice"


class Chapter(Enum):
    """To what a step belongs: the value is the heading."""

    AIRFLOW = "Airflow"
    SOUND = "Sound"
    HEAT = "Heat"
    CONTROL = "Control"
    COMPARING = "Comparing"


@dataclass(frozen=True)
class Step:
    """One step.

    Parameters
    ----------
    name : as docs/methods.md has it. words : what is done. source : of the method, as there.
    done : whether the lab's data went through it. formulas : that belong to it, those that were used.
    """

    chapter: Chapter
    name: str
    words: str
    source: str
    done: Callable[[Facts], bool]
    formulas: Callable[[Facts], tuple[Cited, ...]] = lambda _facts: ()


def _formula(*every: Cited) -> Callable[[Facts], tuple[Cited, ...]]:
    return lambda _facts: every


A, S, H, C, X = Chapter.AIRFLOW, Chapter.SOUND, Chapter.HEAT, Chapter.CONTROL, Chapter.COMPARING

STEPS: tuple[Step, ...] = (
    Step(
        A, "Air density",
        "The density of the air is worked out from temperature, pressure and relative humidity. What of the air was not"
        " recorded is assumed, and widens the interval.",
        "Picard et al., Metrologia 45 (2008) 149–155; ANSI/AMCA 210-07 eq. 7.1–7.6",
        done.humidity, _formula(cited.DENSITY),
    ),
    Step(
        A, "Air density",
        "Where a wet bulb was read and no humidity, the density is worked out from that, in the form of the standard.",
        "Picard et al., Metrologia 45 (2008) 149–155; ANSI/AMCA 210-07 eq. 7.1–7.6",
        done.wet_bulb, _formula(cited.WET_BULB_DENSITY),
    ),
    Step(A, "Viscosity", "The viscosity of the air follows from its temperature.", "ANSI/AMCA 210-07 eq. 7.6",
         done.airflow, _formula(cited.VISCOSITY)),
    Step(
        A, "Nozzle flow",
        "The airflow follows from the pressure difference across the nozzles that were open. Each has its own Reynolds"
        " number and its own coefficient, which is solved for and not stepped towards.",
        "ANSI/AMCA 210-07 eq. 7.14, 7.18–7.22", done.nozzles, done.of_nozzles,
    ),
    Step(A, "Metered flow",
         "Where the rig gives airflow itself and no nozzle readings, it is taken as read, with the stated accuracy of"
         " the rig, or an assumed one, as its uncertainty.", OUR_CHOICE, done.metered),
    Step(A, "Fan laws",
         "Each reading is brought to its sweep’s nominal speed and to standard density by its own speed and density,"
         " before any curve is fitted.", "ISO 5801, ANSI/AMCA 210", done.airflow, _formula(cited.FAN_LAWS)),
    Step(A, "Coefficients",
         "Flow, pressure and power are made dimensionless, so that all speeds of a fan fall on one curve.",
         "stated here; variants exist", done.airflow, _formula(cited.NUMBERS)),
    Step(
        A, "Characteristic",
        "One curve of pressure against flow is fitted for all speeds of a mounting, as smooth as the data themselves"
        " say, with a mild effect of the Reynolds number. A sweep that contradicts the others is left out, and that is"
        " said.",
        "common practice; smoothness by restricted maximum likelihood", done.airflow,
    ),
    Step(
        A, "Sweeps up and down",
        "Sweeps with rising and with falling flow go into the one curve; where they differ clearly, the answer there is"
        " a range and not a number.",
        OUR_CHOICE, done.directions,
    ),
    Step(
        A, "Obstacles",
        "Each obstacle was measured by itself: its pressure drop against airflow is fitted by the one of two laws that"
        " the readings speak for.",
        "Hurvich & Tsai, Biometrika 76 (1989)", done.obstacles, done.of_obstacles,
    ),
    Step(
        A, "Operating points",
        "A fan moves as much air through an obstacle as makes its pressure equal to the drop. All such points are"
        " looked for; the stable one of greatest flow is published, and where there may be several it is a range.",
        "common practice", done.asks(lambda asked: asked.measure.through or asked.condition.obstacle),
    ),
    Step(
        A, "Speed at a duty or voltage",
        "The speed at a setting is what was read there, at the operating point; between two settings it is"
        " interpolated, outside them refused.",
        "Fritsch & Carlson, SIAM J. Numer. Anal. 17 (1980)",
        done.asks(lambda asked: asked.condition.duty is not None or asked.condition.volts is not None),
    ),
    Step(A, "Load-line mean airflow",
         "The load-line mean is the geometric mean of the flow on 21 lines Δp = kQ², from open to restrictive: it names"
         " no obstacle.", "stated here", done.measures("load-line")),
    Step(A, "Pressure to spare",
         "Pressure to spare is what may be added before the fan leaves the falling branch of its curve.",
         "stated here", done.measures("pressure-to-spare")),
    Step(S, "Reading", "A recording is read once from begin to end; its analysis hangs on its bytes alone, so that a"
         " new calibration changes the scale and nothing else.", "", done.recorded),
    Step(
        S, "Levels",
        "Levels are A, C and Z weighted at the bins of the spectrum. Seconds that are louder than the rest are left"
        " out, and kept as evidence.",
        "IEC 61672-1:2013", done.recorded,
    ),
    Step(S, "One-third octaves", "Bands run from 20 Hz to 20 kHz, class 1.", "IEC 61260-1:2014", done.recorded),
    Step(
        S, "Scale",
        "The scale comes from recordings of a calibrator before and after: their mean. What is no calibrator’s, or at"
        " another gain, is refused. Without one, the level that was stated for full scale stands in, with a wide"
        " uncertainty.",
        "ISO 3744, ISO 7779 (from memory)", done.recorded,
    ),
    Step(
        S, "Background",
        "The background is taken off as energy, in total and per band. Too near the background, or the microphone’s own"
        " noise, a level is an upper bound and stays one.",
        "ISO 3744:2010, 8.2.3",
        done.of_recordings(lambda each: each["background"] is not None), _formula(cited.BACKGROUND),
    ),
    Step(
        S, "Tones",
        "Tones are found by tone-to-noise and prominence ratio. Those that the background has as loud are the room’s."
        " That a fan has a tone is published, its level at one place of the microphone is not.",
        "ECMA-418-1:2024", done.recorded,
    ),
    Step(S, "Loudness, sharpness",
         "Loudness and sharpness come from the bands that are values; a band that is an upper bound is left out.",
         "ISO 532-1:2017 (stationary, free field); DIN 45692:2009", done.measures("loudness", "sharpness")),
    Step(
        S, "Speed",
        "The speed during a recording is heard in the sound where that is sure enough; else the tachometer, the optical"
        " reading or the setting tells it. Where two others agree against the first, they are believed.",
        OUR_CHOICE, done.recorded,
    ),
    Step(S, "Ramps", "In slow sweeps of the speed each moment’s speed is heard by its comb of orders; levels are taken"
         " in steps of 10 rpm and corrected as dwells are.", "common practice",
         done.of_recordings(lambda each: str(each["what"]).startswith("ramp"))),
    Step(
        S, "Level against speed",
        "Dwells and ramps of a mounting make one curve of level against speed. Resonances are kept: the level may fall"
        " while the speed rises, and one straight line is never drawn.",
        "stated in `core/sound/level_curve.py`", done.sound, _formula(cited.LEVEL_CURVE),
    ),
    Step(S, "Tables", "Levels that were written down by hand or by a meter go the same way; what they lack is a mark.",
         "", done.tables),
    Step(H, "Files of one run", "Files of several loggers are put together where they belong to one session, or to one"
         " mounting at the same hours.", OUR_CHOICE, done.files),
    Step(
        H, "Clocks",
        "The logger with the hot probe leads. Another is put right by its stated offset, else by a change that both"
        " saw; one that shares none is marked.",
        OUR_CHOICE, done.clocks,
    ),
    Step(H, "Probes", "Probes are read by the calibration in force, then by the last common bath before the run: what"
         " they then still differ by is shared by all fans and falls away between them.", "common practice", done.heat),
    Step(H, "Settings", "Where one setting ends and the next begins is as told, else as the drive recorded it, else"
         " where speed or temperature changed; only while the heater was on.", OUR_CHOICE, done.heat),
    Step(
        H, "Rise",
        "The temperature rise is the hot probe less the mean of the probes of the air going in, reading by reading,"
        " brought to nominal power. Where the power was not read, the rise is as measured.",
        "common practice", done.heat, _formula(cited.RISE),
    ),
    Step(
        H, "Steady",
        "A run is steady when what still drifts is proven to be smaller than the tolerance; the value is the mean of"
        " the last time constant.",
        "common practice", done.heat, _formula(cited.STEADY),
    ),
    Step(
        H, "Forecast",
        "Where a run was not yet steady, its end is forecast from two time constants on. Such a number says so and has"
        " the larger interval of a forecast.",
        "Seber & Wild, Nonlinear Regression (1989), from memory",
        done.of_steps(lambda each: each["how"] == "forecast"), _formula(cited.FORECAST),
    ),
    Step(H, "Time constant", "The time constant is that of the rig’s record, else what long runs of the mounting say.",
         "conservation of energy", done.heat),
    Step(H, "Speed", "The speed of a heat run is the tachometer’s; the optical reading’s where the two are a wrong"
         " count of pulses apart.", OUR_CHOICE, done.heat),
    Step(H, "Rise against speed", "The rises at several speeds make one smooth curve, and answer only near the speeds"
         " that were run.", "stated in `core/heat/heat_curve.py`", done.heat),
    Step(
        H, "Heat and airflow",
        "Over all fans, thermal resistance falls with airflow by one law; each fan is held against what the others"
        " predict for it. That finds faults and makes no number.",
        "stated in `core/heat/flow_law.py`", done.heat_by_airflow, _formula(cited.FLOW_LAW),
    ),
    Step(
        C, "Response",
        "The speed at each duty or voltage is read with the setting falling and rising. Where a fan starts and stops"
        " lies between two settings that were tried.",
        "4-Wire PWM Controlled Fans Specification, 3.4", done.control,
    ),
    Step(C, "Start attempts", "Attempts to start from rest are counted; what a count proves is said with it.",
         "Clopper & Pearson, Biometrika 26 (1934)", done.control_tables("starts"), _formula(cited.STARTS)),
    Step(
        X, "Uncertainty",
        "Every source of error is drawn many times, and the same source draws the same for all fans: what two fans"
        " share falls away when they are compared. Limits of error without a distribution are taken as rectangular.",
        "JCGM 101:2008; JCGM 100:2008", done.compared, _formula(cited.DIFFERENCE),
    ),
    Step(X, "Spreads", "How much mountings and samples of one fan differ is pooled over all fans, agreed once and"
    " dated.",
         "Searle, Casella & McCulloch (1992); Gelman et al. (2013)", done.agreed),
    Step(
        X, "Verdicts",
        "A fan is ahead where the 95 % interval of the difference leaves out zero and the difference is larger than the"
        " margin. All else is printed as too close to call; the laboratory parts it into tied, where the difference is"
        " shown to be smaller than the margin, and not resolved.",
        "Schuirmann (1987)", done.compared,
    ),
    Step(X, "Best set, ranks", "The fans that may be the best, and the ranks that each may have, hold for all fans at"
         " once.", "Hsu (1984)", done.compared),
    Step(X, "Claims on the box", "A printed value is judged only under the condition that the box prints; it is called"
         " outside only where the whole interval lies beyond the tolerance.",
         "ISO 13528:2015, 9.6; ISO 14253-1 and JCGM 106:2012, 8.3.3 (from memory)",
         done.claimed, _formula(cited.CLAIM)),
)  # fmt: skip
