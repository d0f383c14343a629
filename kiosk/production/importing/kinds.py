"""Every file of records, in the order of writing: whatever a line names is there before it."""

from __future__ import annotations

from kiosk.production.importing.bottling import BLENDS, DRAWS, LOTS, RECEIVED
from kiosk.production.importing.cane import FIELDS, LOADS, WASH_READINGS, WASHES
from kiosk.production.importing.cellar import CASK_EVENTS, CASKS, FILLS, GAUGES, STORES
from kiosk.production.importing.kind import TEMPERATURE_C, Kind
from kiosk.production.importing.still import CUTS, RECEIVERS, RUN_READINGS, RUNS, VESSELS

KINDS = (
    STORES,
    VESSELS,
    CASKS,
    FIELDS,
    LOADS,
    WASHES,
    WASH_READINGS,
    RUNS,
    RUN_READINGS,
    RECEIVERS,
    RECEIVED,
    BLENDS,
    LOTS,
    FILLS,
    GAUGES,
    CASK_EVENTS,
    DRAWS,
)

__all__ = [
    "BLENDS",
    "CASKS",
    "CASK_EVENTS",
    "CUTS",
    "DRAWS",
    "FIELDS",
    "FILLS",
    "GAUGES",
    "KINDS",
    "LOADS",
    "LOTS",
    "RECEIVED",
    "RECEIVERS",
    "RUNS",
    "RUN_READINGS",
    "STORES",
    "TEMPERATURE_C",
    "VESSELS",
    "WASHES",
    "WASH_READINGS",
    "Kind",
]
