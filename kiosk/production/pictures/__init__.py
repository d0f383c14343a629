"""Pictures of what the records tell: read from the database, drawn by `kiosk.paper`."""
