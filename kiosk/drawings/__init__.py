"""Drawings of the house as SVG for a strict content policy: values go in, text with classes comes out.

No shape here has a style or a colour: each has the class of its ink, and
`static/css/drawings.css` gives the inks their colours by the ground they stand on.
`kiosk.paper.vectors` prints the same text.
"""
