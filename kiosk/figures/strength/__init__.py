"""Strength of ethanol-water mixtures, by instrument, by mass and volume, diluted and blended.

Everything rests on the general formula of OIML R 22 (1975) in `mixture`,
valid from -20 °C to 40 °C above the mixture's freezing point. A mass fraction
is kg of ethanol per kg of mixture, 0 to 1. Unless it says otherwise, % vol is
at 20 °C (OIML R 22; EU Directive 76/766/EEC) and US proof is twice the % vol
at 60 °F (27 CFR 30.11). Errors are `FigureError` with the reasons

- `out_of_range`: an argument outside the range in its docstring;
- `freezing`: below 0 °C and so weak that ice would form;
- `above_pure`: lighter than pure ethanol at that temperature;
- `holds_sugar`: denser than water at that temperature, so no ethanol-water
  mixture: sugar or fruit is dissolved in it, or reading or temperature is wrong;
- `distil`: so many dissolved solids that a hydrometer does not show the strength;
- `too_few`: nothing to calculate from.
"""

from kiosk.figures.strength.instruments import (
    AS_READ,
    DENSITY_METER,
    GLASS_ABV_15,
    GLASS_ABV_20,
    GLASS_PER_C,
    GLASS_PROOF_60,
    Certificate,
    Instrument,
    reading_abv_percent,
    solids_g_per_100ml,
    true_abv,
    true_proof,
    true_proof_with_solids,
)
from kiosk.figures.strength.mixing import Blend, Dilution, Part, Strengthening, blend, dilute, strengthen
from kiosk.figures.strength.mixture import (
    ABV_REFERENCE_C,
    COLDEST_C,
    HOTTEST_C,
    PROOF_REFERENCE_C,
    abv_percent,
    density,
    mass_fraction,
    mass_fraction_of_abv,
    volume_at,
)
from kiosk.figures.strength.quantities import (
    AIR_KG_M3,
    POUND_KG,
    WEIGHTS_KG_M3,
    WINE_GALLON_L,
    abv_of_proof,
    mass_of_volume,
    proof_gallons,
    proof_of_abv,
    pure_alcohol_l,
    round_half_up,
    shown_on_scale_kg,
    stated_proof,
    volume_of_mass,
)
