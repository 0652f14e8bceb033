"""The formulas of the methodology with their sources; each names the place in the code where it is worked out.

Constants come from the code. A test holds each source against the docstring at that place.
"""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.control.starts import CONFIDENCE
from stillroom.core.heat.steady import EXPANDED
from stillroom.core.standards.ansi_amca_210_2007.nozzles import LengthRatio
from stillroom.core.standards.iso_3744_2010 import NO_CORRECTION_FROM, VALUE_FROM
from stillroom.publish.document import Formula

TRANSCRIBED = "as transcribed in public implementations"


@dataclass(frozen=True)
class Cited:
    """A formula, the place in the code where it is worked out, and what the docstring there says of its source.

    Parameters
    ----------
    code : dotted, below `stillroom`: a module, or a function or class in it. says : words that stand there.
    """

    formula: Formula
    code: str
    says: tuple[str, ...]


Where = tuple[tuple[str, str, str], ...]

_AIR: Where = (("ρ", "density of the air", "kg/m³"), ("p", "absolute pressure", "Pa"))

DENSITY = Cited(
    Formula(
        "ρ = p Mₐ / (Z R T) · [1 − x_v (1 − M_v/Mₐ)]",
        "The density is the pressure times the molar mass of dry air, over compressibility, gas constant and"
        " temperature, less what the lighter water vapour takes away",
        (
            *_AIR,
            ("T", "temperature", "K"),
            ("x_v", "mole fraction of water vapour, from the relative humidity", "1"),
            ("Mₐ, M_v", "molar masses of dry air and of water", "kg/mol"),
            ("Z", "compressibility", "1"),
            ("R", "molar gas constant", "J/(mol K)"),
        ),
        "CIPM-2007, equation (1): Picard et al., Metrologia 45 (2008) 149–155",
    ),
    "core.standards.moist_air_cipm_2007.density",
    ("CIPM-2007, equation (1)",),
)
WET_BULB_DENSITY = Cited(
    Formula(
        "ρ = (p − 0.378 p_v)/(R T)",
        "The density is the pressure less 0.378 of the vapour pressure, over the gas constant of air and the"
        " temperature",
        (
            *_AIR,
            ("p_v", "vapour pressure, from dry and wet bulb", "Pa"),
            ("R", "gas constant of air as the standard takes it", "J/(kg K)"),
            ("T", "dry-bulb temperature", "K"),
        ),
        f"ANSI/AMCA 210-07, 7.2.1, {TRANSCRIBED}",
    ),
    "core.standards.ansi_amca_210_2007.air.ambient_density",
    ("ANSI/AMCA 210-07, 7.2.1, as transcribed in public implementations",),
)
VISCOSITY = Cited(
    Formula(
        "μ = (17.23 + 0.048 t) · 10⁻⁶",
        "The viscosity is 17.23 plus 0.048 times the temperature in degrees Celsius, in millionths of a pascal second",
        (("μ", "dynamic viscosity of the air", "Pa s"), ("t", "temperature", "°C")),
        f"ANSI/AMCA 210-07, equation 7.6, {TRANSCRIBED}",
    ),
    "core.standards.ansi_amca_210_2007.air.viscosity",
    ("ANSI/AMCA 210-07", "7.6", "transcribed"),
)


def _coefficient(ratio: LengthRatio, length: str, equation: str) -> Cited:
    a, b, c = ratio.value
    return Cited(
        Formula(
            f"C = {a:g} − {b:g}/√Re + {c:g}/Re",
            f"The discharge coefficient of a nozzle whose throat is {length} of its diameter long is {a:g}, less {b:g}"
            f" over the root of the Reynolds number, plus {c:g} over the Reynolds number",
            (("C", "discharge coefficient", "1"), ("Re", "Reynolds number of the throat", "1")),
            f"ANSI/AMCA 210-07, equation {equation} (L/D {length}), {TRANSCRIBED}",
        ),
        "core.standards.ansi_amca_210_2007.nozzles.discharge_coefficient",
        ("ANSI/AMCA 210-07", f"{equation} (L/D {length})"),
    )


COEFFICIENTS = {
    0.6: _coefficient(LengthRatio.L_0_6, "0.6", "7.19"),
    0.5: _coefficient(LengthRatio.L_0_5, "0.5", "7.20"),
}
"""By the length of the throat over its diameter."""

NOZZLE_FLOW = Cited(
    Formula(
        "Q = Y √(2 Δp/ρ) · Σ C A",
        "The flow is the expansibility times the root of twice the pressure difference over the density, times the sum"
        " over all open nozzles of coefficient times area",
        (
            ("Q", "volume flow before the nozzles", "m³/s"),
            ("Y", "expansibility, isentropic", "1"),
            ("Δp", "pressure difference across the nozzles", "Pa"),
            ("ρ", "density before the nozzles", "kg/m³"),
            ("C", "discharge coefficient of each nozzle, at its own Reynolds number", "1"),
            ("A", "area of each throat", "m²"),
        ),
        f"ANSI/AMCA 210-07, equations 7.14 and 7.18 to 7.22, {TRANSCRIBED}",
    ),
    "core.standards.ansi_amca_210_2007.bank.nozzle_bank_flow",
    ("ANSI/AMCA 210-07", "7.14", "7.18 to 7.22"),
)
NUMBERS = Cited(
    Formula(
        "φ = Q/(A u), ψ = p/(½ ρ u²), λ = P/(½ ρ A u³), u = π D n, A = π D²/4",
        "Flow, pressure and power are each divided by what the tip speed and the area of the disc make of them",
        (
            ("φ, ψ, λ", "flow, pressure and power coefficient", "1"),
            ("Q", "airflow", "m³/s"),
            ("p", "static pressure", "Pa"),
            ("P", "electrical power", "W"),
            ("u", "tip speed", "m/s"),
            ("D", "nominal size of the fan", "m"),
            ("n", "speed", "1/s"),
        ),
        "stated here; variants exist",
    ),
    "core.fanlaws",
    ("variants exist", "φ = Q/(A u)", "ψ = p/(½ρu²)", "λ = P/(½ρ A u³)"),
)
FAN_LAWS = Cited(
    Formula(
        "Q₂/Q₁ = n₂/n₁, p₂/p₁ = (n₂/n₁)² ρ₂/ρ₁, P₂/P₁ = (n₂/n₁)³ ρ₂/ρ₁",
        "Airflow goes with the speed, pressure with its square and the density, power with its cube and the density",
        (("n", "speed", "1/s"), ("ρ", "density at the fan’s inlet", "kg/m³")),
        "ANSI/AMCA 210-07, 7.9, with the compressibility coefficient taken as 1",
    ),
    "core.fanlaws",
    ("ANSI/AMCA 210-07, 7.9", "taken as 1"),
)
_RESISTANCE: Where = (("Δp", "pressure drop", "Pa"), ("Q", "airflow", "m³/s"))
RESISTANCES = {
    "aQ + bQ²": Cited(
        Formula(
            "Δp = a Q + b Q²",
            "The pressure drop is a times the airflow plus b times its square, neither of them negative",
            (*_RESISTANCE, ("a", "linear part, goes with the viscosity", "Pa/(m³/s)"),
             ("b", "quadratic part, goes with the density", "Pa/(m³/s)²")),
            "chosen by AICc: Hurvich & Tsai, Biometrika 76 (1989) 297–307",
        ),
        "core.resistance.fit_resistance",
        ("Hurvich & Tsai, Biometrika 76 (1989), 297-307",),
    ),
    "cQⁿ": Cited(
        Formula(
            "Δp = c Qⁿ",
            "The pressure drop is c times a power of the airflow",
            (*_RESISTANCE, ("c, n", "factor and exponent", "")),
            "chosen by AICc: Hurvich & Tsai, Biometrika 76 (1989) 297–307",
        ),
        "core.resistance.fit_resistance",
        ("Hurvich & Tsai, Biometrika 76 (1989), 297-307",),
    ),
}  # fmt: skip
"""By the law that was chosen."""

BACKGROUND = Cited(
    Formula(
        "K₁ = −10 lg(1 − 10^(−ΔL/10))",
        "What is taken off a level is minus ten times the logarithm of one less ten to the power of minus a tenth of"
        f" the distance to the background; nothing from {NO_CORRECTION_FROM:g} dB on; under {VALUE_FROM:g} dB there is"
        " an upper bound and no value",
        (("K₁", "correction", "dB"), ("ΔL", "level with the fan running, less that of the background", "dB")),
        "ISO 3744:2010, 8.2.3, Formula (16), as transcribed in a public test suite",
    ),
    "core.standards.iso_3744_2010.K1",
    ("ISO 3744:2010, 8.2.3, Formula (16), as transcribed in a public test suite",),
)
LEVEL_CURVE = Cited(
    Formula(
        "L(n) = a + s lg n + smooth part + resonances",
        "The level is a constant, plus a slope times the logarithm of the speed, plus a smooth departure, plus"
        " resonances",
        (("L", "sound pressure level", "dB"), ("n", "speed", "1/s"), ("s", "slope, fitted", "dB per decade")),
        "Rasmussen & Williams, Gaussian Processes for Machine Learning (2006), 2.2, 4.2.1, 5.4.2",
    ),
    "core.sound.level_process",
    ("Rasmussen & Williams, Gaussian Processes for Machine Learning (2006), 2.2, 4.2.1, 5.4.2", "a + s lg n"),
)
RISE = Cited(
    Formula(
        "ΔT = (T_hot − T_air) · P₀/P, G = P₀/ΔT",
        "The temperature rise is the hot temperature less that of the air going in, brought to nominal power in"
        " proportion; the conductance is the nominal power over it",
        (
            ("ΔT", "temperature rise at nominal power", "K"),
            ("P", "electric power of the heater, as measured", "W"),
            ("P₀", "nominal power", "W"),
            ("G", "thermal conductance", "W/K"),
        ),
        "common practice",
    ),
    "core.heat.conductance",
    (),
)
STEADY = Cited(
    Formula(
        f"|slope| τ + {EXPANDED:g} u(slope) τ < tolerance",
        "What the drift still adds in a time constant, with its uncertainty, has to be smaller than the tolerance",
        (("τ", "time constant", "s"), ("u", "standard uncertainty", "K/s")),
        "two one-sided tests: D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657 (from memory)",
    ),
    "core.heat.steady.steadiness",
    ("D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657 (from memory)",),
)
FORECAST = Cited(
    Formula(
        "ΔT(t) = ΔT_∞ + A exp(−t/τ)",
        "The rise goes to its end by an exponential with the time constant",
        (
            ("ΔT_∞", "where it will end", "K"),
            ("A", "what is left at the start", "K"),
            ("τ", "time constant", "s"),
        ),
        "variable projection: G. H. Golub, V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413 (from memory)",
    ),
    "core.heat.separable",
    ("G. H. Golub, V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413 (from memory)",),
)
FLOW_LAW = Cited(
    Formula(
        "R(Q) = R₀ + c Q^(−m)",
        "The thermal resistance is what liquid and metal hold back, plus a part that falls with a power of the airflow",
        (("R", "thermal resistance", "K/W"), ("Q", "airflow through the radiator", "m³/s"),
         ("R₀, c, m", "fitted over all fans of a rig", "")),
        "stated here",
    ),
    "core.heat.flow_law",
    ("R(Q) = R₀ + c Q^(−m)",),
)  # fmt: skip
STARTS = Cited(
    Formula(
        f"share ≥ {1.0 - CONFIDENCE:.2g}^(1/n) where n of n attempts succeed",
        f"Where all attempts succeed, at least the n-th root of {1.0 - CONFIDENCE:.2g} of all attempts will, with"
        f" {100.0 * CONFIDENCE:g} % confidence; where some fail, the exact binomial bound stands instead",
        (("n", "number of attempts", "1"),),
        "Clopper & Pearson, Biometrika 26 (1934) 404–413",
    ),
    "core.control.starts.proven_share",
    ("Clopper", "Pearson", "(1934)", "Biometrika 26(4), 404-413", "α^(1/n)"),
)
DIFFERENCE = Cited(
    Formula(
        "d = A − B, trial by trial",
        "The difference of two fans is taken in each trial: errors that both share fall away",
        (("A, B", "values of two fans in one trial", ""),),
        "JCGM 101:2008, clause 7; multiple comparisons: Hsu, Multiple Comparisons (1996), ch. 4; ranks: Mogstad,"
        " Romano, Shaikh & Wilhelm, Rev. Econ. Studies 91 (2024) 476",
    ),
    "core.multiple",
    ("JCGM 101", "Hsu, Multiple Comparisons (1996), ch. 4", "Rev. Econ. Studies 91 (2024) 476"),
)
CLAIM = Cited(
    Formula(
        "z = (measured − printed)/√(u² + (tolerance/2)²)",
        "The score of a claim is measured less printed, over the root of the squares of the uncertainty and of half the"
        " tolerance",
        (("u", "standard uncertainty of what was measured", ""),),
        "ISO 13528:2015, 9.6, as transcribed by a public handbook",
    ),
    "core.claims",
    ("ISO 13528:2015, 9.6", "transcribed"),
)

ALL: tuple[Cited, ...] = (
    *(DENSITY, WET_BULB_DENSITY, VISCOSITY, *COEFFICIENTS.values(), NOZZLE_FLOW, NUMBERS, FAN_LAWS),
    *RESISTANCES.values(),
    *(BACKGROUND, LEVEL_CURVE),
    *(RISE, STEADY, FORECAST, FLOW_LAW),
    STARTS,
    *(DIFFERENCE, CLAIM),
)
"""Every formula that may be written."""
