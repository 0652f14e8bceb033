"""The list of rules: number, short name, words, usual severity, limit in words, source."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Severity(Enum):
    """What a finding does to publication."""

    BLOCKS = "B"
    MARKS = "W"

    @property
    def words(self) -> str:
        """In words."""
        return "blocks" if self is Severity.BLOCKS else "mark"


@dataclass(frozen=True)
class Rule:
    """A rule of quality.

    Parameters
    ----------
    number : its number in the laboratory's list. name : short, for the command line. title : in words.
    severity : its usual severity; what is only absent marks, what contradicts itself blocks.
    limit : the threshold in words, as it usually is; lab.toml may set its own. source : where it comes from.
    """

    number: int
    name: str
    title: str
    severity: Severity
    limit: str
    source: str


B, W = Severity.BLOCKS, Severity.MARKS

RULES: tuple[Rule, ...] = (
    Rule(
        1, "sample-identity", "Sample unregistered, or readings under another's name", B,
        "no record of the sample marks; a mounting whose speeds at all settings lie within 0.4 % of another"
        " sample's and more than 1.2 % from its own sample's other mountings blocks; so do the same readings"
        " in two files",
        "ISO/IEC 17025, 7.4, item identification (from memory)",
    ),
    Rule(
        2, "calibration-due", "Instrument out of calibration at the time of the run", B,
        "past due on the date of the run; neither calibration nor accuracy, or readings beyond its ranges, marks",
        "ISO/IEC 17025, 6.4 and 6.5 (from memory)",
    ),
    Rule(
        3, "reference-check", "No valid reference-fan check that day", B,
        "no run of the reference fan, two of three beyond 2 s, or an EWMA outside its limits marks; outside 3 s"
        " blocks the day unless a later check lies inside; nothing is established before ten checks of an era",
        "check standards and control charts: NIST/SEMATECH e-Handbook, 2.2.2 and 6.3.2 (from memory)",
    ),
    Rule(
        4, "rig-event", "Event that changes results without a bridge", B,
        "no sample measured before and after it marks, and blocks where one fan lies on both sides; a bridge"
        " that moves results by more than 5 %, and samples that disagree, mark",
        "common practice",
    ),
    Rule(
        5, "calibrator", "The calibrator before and after differ, or one isn't a calibrator", B,
        "more than 0.5 dB apart, at another gain, or no steady tone at 1 kHz; no calibrator that day, or on one"
        " side only, marks",
        "ISO 3744 and ISO 7779, calibration before and after (from memory)",
    ),
    Rule(
        6, "background", "The fan too near the background", W,
        "less than 6 dB above it is an upper bound only; 6 to 10 dB marks, as does no background; a background"
        " as loud as the fan with it blocks",
        "ISO 3744:2010 and ISO 3745, corrections of at most 1.26 and 0.46 dB (from memory)",
    ),
    Rule(
        7, "background-bands", "Bands of tones and loudness too near the background", W,
        "less than 6 dB above it in bands that hold more than a tenth of the sound: they are left out",
        "ISO 3744:2010, band levels (from memory)",
    ),
    Rule(
        8, "self-noise", "Level too near the microphone's own noise", W,
        "less than 6 dB above the self-noise is an upper bound only", "common practice",
    ),
    Rule(
        9, "background-changed", "Background before and after differ", B,
        "more than 2 dB, or more than 1 dB where the fan is less than 10 dB above it; only one of the two marks",
        "common practice; an unsteady background forbids a correction in ECMA practice (from memory)",
    ),
    Rule(
        10, "averaging-time", "Sound averaged over too short a time, or a recording that is cut", B,
        "less than 30 s marks, less than 8 s blocks",
        "ISO 7779 and ISO 3744: 8 s at least, 30 s for bands up to 160 Hz (from memory)",
    ),
    Rule(
        11, "transients", "Other sounds, clipping or gaps in a recording", B,
        "seconds more than 3 dB over the median are left out, and told; more than 20 % of them, samples at full"
        " scale, gaps and silence block",
        "common practice",
    ),
    Rule(
        12, "microphone-place", "Microphone not where the method says, or another one", B,
        "distance more than 2 cm off, angle more than 5°; a recording whose level and tones don't belong to the"
        " others of the fan",
        "common practice",
    ),
    Rule(13, "read-by-hand", "Meter read by a person beside it", W, "any", "common practice"),
    Rule(
        14, "room-cut-off", "Prominent tone below the room's lowest frequency", W,
        "below the frequency from which the room is qualified",
        "ISO 3745 and ISO 26101, qualification of rooms (from memory)",
    ),
    Rule(
        15, "single-position-tone", "Prominent tone heard at a single position", W,
        "always, once a fan: that there is a tone may be said, its level may not be claimed",
        "ECMA-418-1:2024, scope (from memory)",
    ),
    Rule(
        16, "limit-steps", "Dwells on both sides of a noise limit far apart", W,
        "more than 1.5 dB or 50 rpm apart, where no ramp lies between", "common practice",
    ),
    Rule(
        17, "limit-bracket", "Noise limit between levels that are far apart", W,
        "more than 2 dB apart, where no ramp lies between", "common practice",
    ),
    Rule(
        18, "free-air-noise", "Noise measured in free air used behind an obstacle", W, "any",
        "common practice; ISO 10302 measures noise against load (from memory)",
    ),
    Rule(
        19, "speed-unsteady", "Speed unsteady over a point or a sweep", B,
        "coefficient of variation above 0.5 % (1 % below 600 rpm), one or two points mark, more block; speed"
        " that scatters or drifts by more than the load explains (1 % over the sweep) marks",
        "AMCA practice (from memory)",
    ),
    Rule(
        20, "speed-disagrees", "Speed in whole or half multiples of what it should be", B,
        "ratio 0.5, 1.5, 2 or 3 within 1 % to the same sample (6 % to another sample or to the box);"
        " tachometer against optical or against the speed that is heard more than 0.5 %",
        "4-wire PWM fan specification: 2 pulses per revolution",
    ),
    Rule(
        21, "speed-control", "Supply and control signal of a 4-wire fan", B,
        "supply more than 0.1 V from 12 V at the connector marks, more than 5 % blocks; control signal outside"
        " 21 to 28 kHz, or speeds that agree at full duty and not between, block",
        "4-wire PWM fan specification (± 5 %, 21 to 28 kHz); tighter by common practice",
    ),
    Rule(
        22, "nozzle-window", "Pressure across the nozzles outside its window", B,
        "less than 25 Pa or 20 steps of the gauge by more than 2 u, or more than the gauge's span; one or two"
        " points mark, more block",
        "AMCA and ASHRAE practice (from memory)",
    ),
    Rule(
        23, "nozzle-reynolds", "Nozzle below its Reynolds range", B,
        "Re below 12,000 marks: the coefficient's uncertainty is widened; below 5,000 one or two points mark,"
        " more block",
        "ANSI/AMCA 210, validity of the nozzle coefficient (from memory)",
    ),
    Rule(
        24, "nozzle-pattern", "Points of one nozzle pattern leave the curve of the others", B,
        "more than 1.5 % of flow", "common practice",
    ),
    Rule(
        25, "leak", "The chamber leaks, or its leak test is too old", B,
        "flow missing by more than 1 % of the greatest, growing with the root of pressure; leak test older"
        " than 30 days, or a leak above 1 % of the smallest flow that is published; no leak test marks",
        "ANSI/AMCA 210, leak test (from memory)",
    ),
    Rule(
        26, "zero-drift", "Zero of the pressure gauge moved", B,
        "more than 0.2 Pa between the zeros before and after a run, or of what the readings without flow and"
        " the slow sweeps show",
        "common practice",
    ),
    Rule(
        27, "hunting", "Not in equilibrium: hunting, stall", W,
        "pressure or flow varies by more than 2 % at a point, or scatters so in the stall; sweeps with rising"
        " and falling flow differ there; the band of flows is given",
        "AMCA: record the range where equilibrium can't be established (from memory)",
    ),
    Rule(
        28, "few-points", "Too few points on a curve, or badly placed", W,
        "fewer than 8 points (10 where the curve has a hump); none within 10 % of an end; a gap of more than"
        " 15 % of the greatest flow",
        "common practice; ANSI/AMCA 210 leaves the number to the curve's shape",
    ),
    Rule(
        29, "collapse", "A sweep or point doesn't fall on the fan's or obstacle's one curve", B,
        "flow or pressure off by more than 3 %, or a sweep that the fit had to leave out; on the heat rig a fan, or all"
        " fans from a day on, more than 2 % off what their airflow says marks",
        "fan laws",
    ),
    Rule(
        30, "speed-correction", "A point far from its sweep's nominal speed", B,
        "correction by the fan laws to the speed that was set of more than 3 %", "common practice",
    ),
    Rule(
        31, "air", "Air not recorded, or far from standard", W,
        "temperature, pressure or humidity missing; density more than 5 % from 1.2 kg/m³; wet bulb above dry"
        " bulb blocks",
        "ANSI/AMCA 210 (from memory)",
    ),
    Rule(
        32, "crossing", "Operating point outside the readings, not unique, or in stall", W,
        "outside the measured range blocks comparisons through that obstacle; several operating points, or one"
        " on the rising branch or within 10 % of the saddle, mark",
        "common practice",
    ),
    Rule(
        33, "obstacle-stale", "An obstacle's curve is old, or the obstacle visibly dusty", W,
        "older than 6 months when a fan was measured that is compared through it", "common practice",
    ),
    Rule(
        34, "not-steady", "Heat run not steady", B,
        "a drift within the tolerance of lab.toml (0.05 K in a time constant, uncertainty included); a forecast marks,"
        " neither of the two blocks, and so does a steady reading whose course goes on by more than 0.1 K",
        "common practice: an equivalence test on the slope",
    ),
    Rule(
        35, "air-going-in", "Air going into the radiator drifts, differs or is too warm", B,
        "drift of more than 0.5 K while it is averaged, or probes more than 0.5 K apart, block; outside 18 to 26 °C,"
        " and short gusts that were left out, mark",
        "common practice",
    ),
    Rule(
        36, "heat-load", "Heat load unsteady, or not read", B,
        "standard deviation of more than 0.5 %; a power that was not read marks: the rise can't be brought to nominal",
        "common practice",
    ),
    Rule(
        37, "heat-balance", "Heat of the liquid against the heat put in", B,
        "more than 5 % apart, or moved by more than 2 % since the reference fan's last run", "common practice",
    ),
    Rule(
        38, "coolant", "Coolant's flow or age", B,
        "flow more than 2 % from what is set; older than 6 months marks, than 12 blocks", "common practice",
    ),
    Rule(
        39, "repeat-setting", "Repeat of the first setting at the end of a mounting", B,
        "flow differs by more than 1 %, level by more than 0.5 dB, temperature rise by more than 0.15 K; no"
        " repeat marks (of heat once a sample)",
        "common practice: guard against drift",
    ),
    Rule(
        40, "mountings", "Mountings of a published figure", W,
        "fewer than 2; fewer than 3 of a fan that contends for the lead", "common practice",
    ),
    Rule(
        41, "replicates", "Mountings of one sample disagree", B,
        "flow, pressure, level or temperature rise by more than 2.8 s_r (the repeatability limit) marks, by more than"
        " 5 s_r blocks;"
        " speeds at the same setting by more than 1 %",
        "ISO 5725-6 (from memory)",
    ),
    Rule(
        42, "box-claim", "Not within what the box claims", B,
        "a claim that fails by the verdict of the claims blocks that sentence, and no number, while it rests on"
        " one sample; more than 10 % off with |z| above 2 marks, on any side",
        "common practice",
    ),
    Rule(
        43, "run-in", "Run-in or warm-up too short", W,
        "less than 1 hour of run-in, less than 5 minutes at the setting, where recorded", "common practice",
    ),
    Rule(
        44, "impossible", "Physically impossible, or of a size that no such fan has", B,
        "static efficiency above 45 %; power falling while the speed rises; pressure rising with flow;"
        " flow and pressure coefficients outside those of axial fans, where a mix-up of units or sizes"
        " explains it; a radiator cooler than P/C_air allows, not warmer than the air, or warmer at more speed",
        "physics",
    ),
    Rule(
        45, "eras", "Different eras of a rig without a bridge", B,
        "fans measured only before an event, others only after it, and no sample in common: they stand in no"
        " common ranking",
        "common practice",
    ),
    Rule(
        46, "exclusion", "Exclusion without reason and name, or made after the rank was seen", B,
        "no reason or no name blocks; made after a ranking with it was kept marks",
        "ISO/IEC 17025, records (from memory); pre-registration",
    ),
    Rule(48, "price", "Price without date or region", W, "either is missing", "common practice"),
    Rule(49, "claim-condition", "Claim without its condition", W,
         "no condition: the claim is not checkable", "fairness"),
    Rule(
        51, "start-test", "Start test with few attempts, or not from rest and cold", W,
        "fewer than 10 attempts at the setting at which it is said to start, less than 5 s at rest, not from cold, or"
        " not told", "common practice; 10 of 10 prove only 74 % at 95 % (Clopper and Pearson 1934)",
    ),
    Rule(
        52, "clocks", "Clocks of loggers apart", B,
        "an offset that was told contradicts what both loggers saw by more than 2 s; a clock that was off and was put"
        " right by a change that both saw, or that nothing aligns, marks",
        "common practice",
    ),
)  # fmt: skip

BY_NUMBER = {each.number: each for each in RULES}
