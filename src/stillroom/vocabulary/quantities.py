"""Each quantity once: its name, symbol, SI unit, label, and the words that exports use for it."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from stillroom.vocabulary.units import unit


@dataclass(frozen=True)
class Quantity:
    """One physical quantity as the whole house names it.

    Parameters
    ----------
    name : the name used in code, records, tables and JSON.
    symbol : the standard's symbol.
    unit : its SI unit.
    label : the words on a chart's axis.
    aliases : words that exports use for it in a column's header (compared by `plain`).
    shown : the unit used on charts and in tables unless the lab chooses another.
    is_difference : of a scale whose units have offsets: it keeps its SI unit, whatever the lab shows the scale in.
    """

    name: str
    symbol: str
    unit: str
    label: str
    aliases: tuple[str, ...] = ()
    shown: str = ""
    is_difference: bool = False

    @property
    def dimension(self) -> str:
        """The dimension that its units share."""
        return unit(self.unit).dimension


AIR_PROBES = 8
"""How many probes of the air before a radiator a heat rig may have."""


def air_probe(number: int) -> str:
    """The name of the quantity that the air-in probe of a number, from 1, measures."""
    return "air_in_temperature" if number == 1 else f"air_in_temperature_{number}"


_AIR_IN = (
    "air in temperature", "air in", "t air in", "temp air in", "air in temp", "inlet air", "inlet air temperature",
    "air inlet", "air inlet temperature", "t inlet", "t air inlet", "inlet temperature", "t in air", "air probe",
    "t air", "air", "air temperature", "ambient", "ambient temperature", "t amb", "t ambient", "tamb", "zuluft",
    "lufteintritt", "luft ein", "t zuluft", "t luft ein", "t luft", "luft", "zulufttemperatur", "lufttemperatur",
    "umgebung", "umgebungstemperatur", "t umgebung", "entrée d'air", "air entrée", "t air entrée", "air ambiant",
    "température ambiante", "t a in",
)  # fmt: skip
"""Words of exports for the air before the radiator; a number behind them counts the probes."""


def _air_probes() -> tuple[Quantity, ...]:
    numbers = range(2, AIR_PROBES + 1)
    first = (*_AIR_IN, *(f"{each} 1" for each in _AIR_IN))
    further = {n: tuple(f"{each} {n}" for each in _AIR_IN) for n in numbers}
    return (
        Quantity(air_probe(1), "t_A,in", "K", "Air-in temperature", first, "°C"),
        *(
            Quantity(air_probe(n), f"t_A,in,{n}", "K", f"Air-in temperature, probe {n}", further[n], "°C")
            for n in numbers
        ),
    )


QUANTITIES: tuple[Quantity, ...] = (
    Quantity(
        "flow", "Q", "m³/s", "Airflow",
        ("flow", "airflow", "air flow", "volume flow", "volumenstrom", "luftmenge", "q", "qv", "flow rate",
         "volume flow rate", "débit", "débit d'air"),
        "m³/h",
    ),
    Quantity(
        "static_pressure", "p_s", "Pa", "Static pressure",
        ("static pressure", "ps", "p s", "p", "pressure", "p stat", "pstat", "fan static pressure",
         "statischer druck", "stat druck", "stat pressure", "druck", "static", "pression statique"),
        "Pa",
    ),
    Quantity(
        "nozzle_pressure", "Δp_n", "Pa", "Nozzle differential pressure",
        ("nozzle pressure", "nozzle dp", "dp nozzle", "dp", "delta p nozzle", "nozzle differential pressure",
         "wirkdruck", "düsendruck"),
        "Pa",
    ),
    Quantity(
        "resistance_pressure", "Δp", "Pa", "Pressure drop",
        ("pressure drop", "dp obstacle", "drop", "resistance", "druckverlust"), "Pa",
    ),
    Quantity(
        "barometric_pressure", "p_b", "Pa", "Barometric pressure",
        ("barometric pressure", "barometer", "pb", "p baro", "baro", "luftdruck", "ambient pressure"), "hPa",
    ),
    Quantity(
        "temperature", "t_d", "K", "Dry-bulb temperature",
        ("temperature", "dry bulb", "dry-bulb temperature", "td", "t", "t air", "temp", "air temperature",
         "lufttemperatur", "temperatur"),
        "°C",
    ),
    Quantity(
        "wet_bulb_temperature", "t_w", "K", "Wet-bulb temperature",
        ("wet bulb", "wet-bulb temperature", "tw", "t wet"), "°C",
    ),
    Quantity(
        "relative_humidity", "h_u", "1", "Relative humidity",
        ("relative humidity", "humidity", "rh", "rf", "luftfeuchte", "feuchte"), "%",
    ),
    Quantity(
        "speed", "n", "1/s", "Speed",
        ("speed", "fan speed", "n", "rpm", "rotational speed", "drehzahl", "tacho", "tach", "tachometer", "vitesse",
         "vitesse de rotation"),
        "rpm",
    ),
    Quantity("optical_speed", "n_opt", "1/s", "Speed, optical", ("optical speed", "optical", "n opt"), "rpm"),
    Quantity("set_speed", "n_set", "1/s", "Speed, set",
             ("set speed", "speed set", "speed setpoint", "target speed", "nominal speed", "solldrehzahl",
              "drehzahl soll", "n soll", "set rpm", "vitesse de consigne"), "rpm"),
    Quantity("duty", "d", "1", "PWM duty",
             ("duty", "pwm", "duty cycle", "pwm duty", "tastgrad", "rapport cyclique"), "%"),
    Quantity("voltage", "U", "V", "Voltage",
             ("voltage", "u", "volts", "supply voltage", "supply", "fan voltage", "spannung", "versorgung",
              "tension"), "V"),
    Quantity("current", "I", "A", "Current", ("current", "i", "amps", "strom"), "A"),
    Quantity("power", "P", "W", "Electrical power", ("power", "electrical power", "p el", "leistung"), "W"),
    Quantity("air_power", "P_u", "W", "Air power", (), "W"),
    Quantity("static_efficiency", "η_s", "1", "Static efficiency", (), "%"),
    Quantity("density", "ρ", "kg/m³", "Air density", ("density", "rho", "air density"), "kg/m³"),
    Quantity("time", "t", "s", "Time",
             ("time", "elapsed", "zeit", "t s", "elapsed time", "time elapsed", "rel time", "relative time", "run time",
              "seconds", "secs", "minutes", "laufzeit", "messzeit", "temps", "temps écoulé", "durée"), "s"),
    Quantity("length", "l", "m", "Length", (), "mm"),
    Quantity("pwm_frequency", "f_PWM", "Hz", "PWM frequency",
             ("pwm frequency", "pwm freq", "control frequency", "f pwm", "pwm frequenz"), "kHz"),
    Quantity("pressure_zero", "p_0", "Pa", "Zero of the static pressure",
             ("pressure zero", "zero", "zero before", "p zero", "nullpunkt"), "Pa"),
    Quantity("pressure_zero_after", "p_0,e", "Pa", "Zero of the static pressure, afterwards",
             ("zero after", "pressure zero after", "p zero after"), "Pa"),
    Quantity("speed_variation", "v_n", "1", "Coefficient of variation of the speed",
             ("speed cov", "cov speed", "rpm cov", "cov rpm", "cv speed", "speed cv", "cv n"), "%"),
    Quantity("pressure_variation", "v_p", "1", "Coefficient of variation of the pressure",
             ("pressure cov", "cov pressure", "p cov", "cov p", "ps cov", "cv p"), "%"),
    Quantity("flow_variation", "v_Q", "1", "Coefficient of variation of the flow",
             ("flow cov", "cov flow", "q cov", "cov q", "airflow cov", "cv q"), "%"),
    Quantity("sound_pressure", "p", "Pa", "Sound pressure", ()),
    Quantity(
        "sound_level", "L_pA", "dB", "Sound level",
        ("sound level", "sound pressure level", "level", "spl", "noise level", "noise", "dba", "laeq", "leq", "la", "l",
         "lp", "lpa", "laeq 1s", "a weighted level", "schalldruckpegel", "schallpegel", "pegel", "a pegel",
         "mittelungspegel", "niveau", "niveau sonore", "niveau de pression acoustique", "niveau de bruit"),
        "dBA",
    ),
    Quantity(
        "background_level", "L_B", "dB", "Background level",
        ("background level", "background", "background noise", "bg", "hintergrund", "hintergrundpegel",
         "hintergrundgeräusch", "fremdgeräusch", "fremdgeräuschpegel", "grundgeräusch", "bruit de fond",
         "niveau de fond", "ambient noise", "ambient level"),
        "dBA",
    ),
    Quantity("fast_level", "L_AF", "dB", "Sound level, fast",
             ("laf", "la f", "laf level", "fast level", "fast", "level fast", "laf 1s"), "dBA"),
    Quantity("c_level", "L_C", "dB", "Sound level, C-weighted",
             ("lceq", "lc", "dbc", "lpc", "c weighted level", "c pegel"), "dBC"),
    Quantity(
        "band_level", "L_f", "dB", "Level in a band",
        ("band level", "third octave level", "1/3 octave level", "lzeq", "leq z", "terzpegel", "terzbandpegel",
         "bandpegel", "niveau par bande", "niveau de bande", "niveau de tiers d'octave"),
        "dB",
    ),
    Quantity(
        "frequency", "f", "Hz", "Frequency",
        ("frequency", "freq", "band", "centre frequency", "center frequency", "midband frequency",
         "nominal frequency", "third octave", "1/3 octave", "frequenz", "mittenfrequenz", "terz", "terzband",
         "fréquence", "fréquence centrale", "bande", "tiers d'octave"),
        "Hz",
    ),
    Quantity("temperature_difference", "ΔT", "K", "Temperature rise", (), "K", is_difference=True),
    Quantity("conductance", "G", "W/K", "Thermal conductance", (), "W/K"),
    Quantity("loudness", "N", "sone", "Loudness", (), "sone"),
    Quantity("loudness_level", "L_N", "phon", "Loudness level", (), "phon"),
    Quantity("sharpness", "S", "acum", "Sharpness", (), "acum"),
    Quantity("distance", "r", "m", "Distance",
             ("distance", "mic distance", "microphone distance", "measuring distance", "abstand", "messabstand",
              "mikrofonabstand", "entfernung", "distance micro", "distance du micro"), "m"),
    Quantity("calibrator_level", "L_cal", "dB", "Level of the calibrator", (), "dB"),
    Quantity("heater_voltage", "U_h", "V", "Heater voltage",
             ("heater voltage", "heater volts", "heater v", "v heater", "u heater", "volts heater", "load voltage",
              "voltage heater", "heizspannung", "spannung heizer", "u heizung", "u heiz", "spannung heizung",
              "heater u", "heizer u", "load v", "load volts", "load u", "u load", "v load",
              "tension chauffage", "u chauffage", "v chauffage"), "V"),
    Quantity("heater_current", "I_h", "A", "Heater current",
             ("heater current", "heater amps", "heater a", "i heater", "a heater", "amps heater", "load current",
              "current heater", "heizstrom", "strom heizer", "i heizung", "i heiz", "strom heizung",
              "heater i", "heizer i", "load a", "load amps", "load i", "i load", "a load",
              "courant chauffage", "i chauffage"), "A"),
    Quantity("heater_power", "P_h", "W", "Heater power",
             ("heater power", "heater", "heater watts", "heater w", "p heater", "w heater", "watts heater", "heat load",
              "load power", "power heater", "heating power", "heizleistung", "leistung heizer", "p heizung", "p heiz",
              "load w", "load watts", "p load",
              "heizung", "leistung heizung", "puissance chauffage", "p chauffage", "chauffage"), "W"),
    Quantity("hot_temperature", "t_hot", "K", "Hot temperature",
             ("hot temperature", "hot", "hot probe", "t hot", "temp hot", "hot temp", "hot side", "hot junction",
              "block", "block temperature", "t block", "heated block", "heisse probe", "heiss", "heiß",
              "t heiss", "t heiß", "blocktemperatur", "heissfühler", "heißfühler", "point chaud", "t chaud", "chaud",
              "température chaude", "sonde chaude"), "°C"),
    Quantity("liquid_in_temperature", "t_L,in", "K", "Liquid temperature, into the radiator",
             ("liquid in temperature", "liquid in", "t liquid in", "water in", "t water in", "coolant in",
              "t coolant in", "radiator in", "t radiator in", "rad in", "t rad in", "liquid inlet", "water inlet",
              "t l in", "vorlauf", "t vorlauf", "vorlauftemperatur", "wasser ein", "t wasser ein", "eau entrée",
              "t eau entrée", "liquide entrée"), "°C"),
    Quantity("liquid_out_temperature", "t_L,out", "K", "Liquid temperature, out of the radiator",
             ("liquid out temperature", "liquid out", "t liquid out", "water out", "t water out", "coolant out",
              "t coolant out", "radiator out", "t radiator out", "rad out", "t rad out", "liquid outlet",
              "water outlet", "t l out", "rücklauf", "t rücklauf", "rücklauftemperatur", "wasser aus", "t wasser aus",
              "eau sortie", "t eau sortie", "liquide sortie"), "°C"),
    *_air_probes(),
    Quantity("air_out_temperature", "t_A,out", "K", "Air-out temperature",
             ("air out temperature", "air out", "t air out", "temp air out", "outlet air", "outlet air temperature",
              "air outlet", "exhaust air", "t exhaust", "t a out", "abluft", "t abluft", "luftaustritt", "luft aus",
              "t luft aus", "ablufttemperatur", "sortie d'air", "air sortie", "t air sortie"), "°C"),
    Quantity("liquid_flow", "Q_L", "m³/s", "Liquid flow",
             ("liquid flow", "liquid flow rate", "coolant flow", "coolant flow rate", "water flow", "water flow rate",
              "loop flow", "flow liquid", "flow water", "flow coolant", "durchfluss", "wasserdurchfluss",
              "wassermenge", "débit d'eau", "débit eau", "débit liquide", "débit du liquide"), "l/min"),
    Quantity("thermal_resistance", "R", "K/W", "Thermal resistance", (), "K/W"),
    Quantity("rest_time", "t_r", "s", "Time at rest before a start",
             ("rest time", "rested", "time at rest", "rest", "standing time", "off time", "time off", "standzeit",
              "stillstand", "ruhezeit", "stillstandszeit", "temps de repos", "repos", "temps d'arrêt"), "s"),
    Quantity("reached_speed", "n_r", "1/s", "Speed reached",
             ("reached speed", "speed reached", "speed after start", "final speed", "rpm reached", "erreichte drehzahl",
              "enddrehzahl", "drehzahl erreicht", "vitesse atteinte", "vitesse finale"), "rpm"),
    Quantity("peak_current", "I_pk", "A", "Peak current",
             ("peak current", "inrush", "inrush current", "start current", "start up current", "starting current",
              "i peak", "i pk", "ipk", "i max", "imax", "max current", "anlaufstrom", "spitzenstrom", "einschaltstrom",
              "anlaufspitze", "courant de démarrage", "courant de crête", "courant de pointe", "courant max"), "A"),
    Quantity("departure", "Δn/n", "1", "Departure from the line", (), "%"),
    Quantity("relative_speed", "n/n_max", "1", "Speed, of full speed", (), "%"),
)  # fmt: skip

BY_NAME: dict[str, Quantity] = {each.name: each for each in QUANTITIES}


def plain(text: str) -> str:
    """Fold a word for comparison: no accents of width, case, dots, dashes or doubled blanks."""
    folded = unicodedata.normalize("NFKC", text).casefold()
    folded = folded.replace("δ", "d").replace("∆", "d")
    return " ".join(re.sub(r"[_\-./:,;]+", " ", folded).split())


def quantity_for(header: str) -> Quantity | None:
    """The quantity that a column header's words (without the unit) name, or None."""
    wanted = plain(header)
    for each in QUANTITIES:
        if wanted == plain(each.name) or any(wanted == plain(alias) for alias in each.aliases):
            return each
    return None


def shown_unit(quantity: Quantity, chosen: dict[str, str] | None = None) -> str:
    """The unit in which the lab shows a quantity: its own choice for the dimension, else the usual one."""
    choice = None if quantity.is_difference else (chosen or {}).get(quantity.dimension)
    return choice or quantity.shown or quantity.unit
