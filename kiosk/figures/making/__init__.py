"""From cane to hearts: the gravity of juice and wash, fermentation, the cuts of a run, its balance.

Specific gravity is apparent, 20/20 °C: against water at 20 °C. Degrees Brix
(°Bx) are grams of sugar in 100 g of a pure sugar solution of that gravity; a
dry wash is lighter than water and so reads below zero. `lineage` and `yields` follow the
cane through all batches and are imported by their own names.
"""

from kiosk.figures.making.cuts import (
    CUTS,
    HEARTS,
    AsRead,
    Cut,
    Now,
    Reading,
    corrected,
    cuts,
    hearts,
    next_abv_percent,
    run_now,
    run_so_far,
)
from kiosk.figures.making.fermentation import (
    END_GRAVITY,
    Forecast,
    Progress,
    WashReading,
    forecast_end,
    progress,
)
from kiosk.figures.making.gravity import (
    DRIEST_BRIX,
    EXPANDS_LIKE_WATER_BRIX,
    HEXOSE_L_PER_KG,
    SUCROSE_L_PER_KG,
    SWEETEST_BRIX,
    WashInstrument,
    alcohol_mass_percent,
    apparent_attenuation_percent,
    brix,
    gravity_at_20,
    gravity_of_reading,
    potential_abv_percent,
    real_attenuation_percent,
    real_extract_brix,
    specific_gravity,
    wash_abv_percent,
)
from kiosk.figures.making.recovery import (
    FEINTS,
    POT,
    TO_BE_FEINTS,
    Difference,
    Receipt,
    Receiver,
    Recovery,
    against_gauges,
    recovery,
)
