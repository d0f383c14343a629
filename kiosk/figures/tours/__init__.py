"""The times of groups on a route: `timetable` is the door to `routes` and `shortening`."""
