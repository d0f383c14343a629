"""The WSGI application of one site, for any WSGI server: `KIOSK_SITE` names the site's folder.

`kiosk serve` needs none of this. On SQLite one process serves a site, with threads. The
database is migrated here too, and a clock behind its records stops the start, as there.
"""

import os
from pathlib import Path

from kiosk.app import create_app, site_clock
from kiosk.cli.console import open_store_of
from kiosk.site.loading import load_site
from kiosk.store.audit import require_plausible_clock
from kiosk.web.operation import log_access

site = load_site(Path(os.environ["KIOSK_SITE"]))
store = open_store_of(site)
with store.read() as session:
    require_plausible_clock(session, site_clock(site)(), site.zone)
log_access(site.access_log)
app = create_app(site, store)
