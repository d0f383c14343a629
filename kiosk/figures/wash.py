"""The wash, from juice to its end: one door to the modules behind it.

Specific gravity is apparent, 20/20 °C: against water at 20 °C. Degrees Brix
(°Bx) are grams of sugar in 100 g of a pure sugar solution of that gravity; a
dry wash is lighter than water and so reads below zero.
"""

from kiosk.figures.attenuation import (
    HEXOSE_L_PER_KG,
    SUCROSE_L_PER_KG,
    alcohol_mass_percent,
    apparent_attenuation_percent,
    potential_abv_percent,
    real_attenuation_percent,
    real_extract_brix,
    wash_abv_percent,
)
from kiosk.figures.fermentation import (
    END_GRAVITY,
    Forecast,
    Progress,
    WashReading,
    forecast_end,
    progress,
)
from kiosk.figures.gravity import (
    DRIEST_BRIX,
    EXPANDS_LIKE_WATER_BRIX,
    SWEETEST_BRIX,
    WashInstrument,
    brix,
    gravity_at_20,
    gravity_of_reading,
    specific_gravity,
)

__all__ = [
    "DRIEST_BRIX",
    "END_GRAVITY",
    "EXPANDS_LIKE_WATER_BRIX",
    "HEXOSE_L_PER_KG",
    "SUCROSE_L_PER_KG",
    "SWEETEST_BRIX",
    "Forecast",
    "Progress",
    "WashInstrument",
    "WashReading",
    "alcohol_mass_percent",
    "apparent_attenuation_percent",
    "brix",
    "forecast_end",
    "gravity_at_20",
    "gravity_of_reading",
    "potential_abv_percent",
    "progress",
    "real_attenuation_percent",
    "real_extract_brix",
    "specific_gravity",
    "wash_abv_percent",
]
