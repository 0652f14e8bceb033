"""Temperature difference at nominal power, and conductance."""

from __future__ import annotations

from stillroom.errors import OutOfRange

NORMALISED_WITHIN = 0.15
"""How far the power may be from nominal for a difference still to be brought to it [1]: ΔT is proportional to power
as long as the liquid's and air's properties hardly change (common practice)."""


def delta_at_nominal(delta: float, power: float, nominal: float) -> float:
    """Temperature difference brought to nominal power, in proportion.

    Parameters
    ----------
    delta : measured [K].
    power : measured in the same window [W].
    nominal : [W].

    Raises
    ------
    OutOfRange : a power more than 15 % from nominal.
    """
    if not abs(power / nominal - 1.0) <= NORMALISED_WITHIN:
        raise OutOfRange(
            "heat load",
            found=f"{power:.1f} W",
            expected=f"within {NORMALISED_WITHIN:.0%} of the nominal {nominal:g} W".replace("%", " %"),
        )
    return delta * nominal / power


def conductance(power: float, delta: float) -> float:
    """Conductance G = P/ΔT [W/K] of a power [W] and a temperature difference [K].

    Raises
    ------
    OutOfRange : a difference that is not above zero.
    """
    if not delta > 0.0:
        raise OutOfRange("temperature difference", found=f"{delta:.2f} K", expected="above 0")
    return power / delta
