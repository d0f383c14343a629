"""What a site needs once a day: names forgotten, a backup, a look at what ends soon."""
