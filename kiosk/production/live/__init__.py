"""The live figures of production, by the provider that computes them."""

from kiosk.production.live import cane, casks, chain, ferment, still

PROVIDERS = (cane.PROVIDER, ferment.PROVIDER, still.PROVIDER, casks.PROVIDER, chain.PROVIDER)
