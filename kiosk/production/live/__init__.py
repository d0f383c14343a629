"""The live figures of production, by the provider that computes them."""

from kiosk.production.live import bottling, cane, casks, chain, ferment, lab, recovery, still

PROVIDERS = (
    *(cane.PROVIDER, ferment.PROVIDER, still.PROVIDER, recovery.PROVIDER, casks.PROVIDER),
    *(bottling.PROVIDER, chain.PROVIDER, lab.PROVIDER),
)
