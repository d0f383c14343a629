"""The live figures of production, by the provider that computes them."""

from kiosk.production.live.bottling import BOTTLE_PROVIDER, BOTTLING_PROVIDER, LABORATORY_PROVIDER
from kiosk.production.live.cane import CANE_PROVIDER
from kiosk.production.live.casks import CASK_PROVIDER
from kiosk.production.live.fermentation import FERMENTATION_PROVIDER
from kiosk.production.live.still import RECOVERY_PROVIDER, STILL_PROVIDER

PROVIDERS = (
    *(CANE_PROVIDER, FERMENTATION_PROVIDER, STILL_PROVIDER, RECOVERY_PROVIDER, CASK_PROVIDER),
    *(BOTTLING_PROVIDER, BOTTLE_PROVIDER, LABORATORY_PROVIDER),
)
