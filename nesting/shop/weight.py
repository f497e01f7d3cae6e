"""Weights of boards, and what they mean for the person who lifts them.

Weight is area times thickness times density. Densities of wood panels vary by
a tenth and more: the result is an estimate until a sheet was weighed.
"""

from __future__ import annotations

ONE_PERSON = 23.0
"""Load constant of the revised NIOSH lifting equation, kg: the most for one person
lifting with both hands in the ideal place (DHHS (NIOSH) 94-110, revised 2021)."""

PAIR_SHARE = 2.0 / 3.0
"""Two people manage about two thirds of the sum of what each can do alone (UK HSE
guidance on the Manual Handling Operations Regulations 1992, paragraph 120)."""

POUND = 0.45359237
"""kg, exact (international avoirdupois pound)."""


def board_weight(area: float, thickness: float, density: float) -> float:
    """Return the weight of a board, kg.

    Parameters
    ----------
    area : float
        mm².
    thickness : float
        mm.
    density : float
        kg/m³.
    """
    return area * thickness * density * 1e-9


def wood_density(specific_gravity: float, moisture: float = 12.0) -> float:
    """Return the density of wood at a moisture content, kg/m³.

    Parameters
    ----------
    specific_gravity : float
        Oven-dry mass over volume at that moisture, relative to water.
    moisture : float
        Per cent of the oven-dry mass.

    References
    ----------
    Wood Handbook, chapter 4, General Technical Report FPL-GTR-282, 2021 (formula
    from memory).
    """
    return 1000.0 * specific_gravity * (1.0 + moisture / 100.0)


def lift_note(weight: float, one: float = ONE_PERSON) -> str:
    """Return what to say about lifting a board of this weight (kg); may be empty.

    Parameters
    ----------
    one : float
        What one person lifts, kg.
    """
    if weight > 2.0 * one * PAIR_SHARE:
        return "heavy for two people: use a cart, or have it ripped by the supplier"
    if weight > one:
        return "heavy: plan the lift, two people"
    return ""
