"""The words of the plates: what each shows, the names of its lettered parts, and its instrument's figures.

A plate is a section with lettered parts; `kiosk.drawings.plates` draws it. A stop of a house's own has none.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from kiosk.words.catalogs import N_


@dataclass(frozen=True, slots=True)
class Shown:
    """The words of one plate, and which figures its instrument shows."""

    title: str
    shows: str  # for those who do not see the drawing
    parts: Mapping[str, str]  # name and use of each, parted by the first comma
    heading: str
    figures: tuple[str, ...]


PLATES: Mapping[str, Shown] = {
    "welcome-house": Shown(
        N_("The welcome house"),
        N_(
            "Drawing: a low house under a wide roof with a bell turret; a gallery in front with a"
            " bench, a double door, and a table with a welcome drink."
        ),
        {
            "gallery": N_("Gallery, shade before the sun of the walk"),
            "door": N_("Door, where the group is counted out and in"),
            "bench": N_("Bench, for a moment of rest"),
            "welcome_drink": N_("Welcome drink, without alcohol while machines run"),
            "bell_turret": N_("Bell, it calls a group together"),
        },
        N_("Where the groups are now"),
        (),
    ),
    "cane-field": Shown(
        N_("The cane, from leaf to root"),
        N_(
            "Drawing: tall cane with long bending leaves on both sides, hills behind; in front a "
            "cut stool, and in the opened ground a planted piece of stalk with its roots and "
            "first shoot."
        ),
        {
            "leaves": N_("Leaves, they catch the light and make the sugar"),
            "stalk": N_("Stalk, it stores the sugar, most of it close to the ground"),
            "node": N_("Node, a joint with a bud that can become a new stalk"),
            "stool": N_("Stool, what is left of a cut clump and grows again"),
            "planted_piece": N_("Planted piece, how a field begins"),
        },
        N_("The cane that has stood longest"),
        ("cane_standing",),
    ),
    "harvest-yard": Shown(
        N_("The scale, cut open"),
        N_(
            "Drawing: a wagon heaped with cut cane stands on the platform of a scale; below it "
            "the levers in their pit, beside it the round dial and a desk with a book."
        ),
        {
            "load": N_("Load, cane of one field that was cut on one day"),
            "platform": N_("Platform, it carries the wagon and gives way a little"),
            "levers": N_("Levers, they make the weight small enough for a dial"),
            "dial": N_("Dial, read when the hand stands still"),
            "book": N_("Book, where the load gets its number"),
        },
        N_("The last load on the scale"),
        ("cane_last_load",),
    ),
    "mill": Shown(
        N_("The mill, cut open"),
        N_(
            "Drawing: stalks of cane go between three rollers with a large wheel behind; crushed "
            "bagasse leaves on a chute, juice runs over a screen into a pit and is pumped to a "
            "settling filter."
        ),
        {
            "feed": N_("Feed, only the house's own people stand here"),
            "rollers": N_("Rollers, they turn slowly and give nothing back"),
            "bagasse": N_("Bagasse, what is left of the stalk, for fuel or for the field"),
            "screen": N_("Screen, it holds back fiber"),
            "filter": N_("Filter, where wax and earth settle"),
        },
        N_("From a tonne of cane"),
        ("juice_per_tonne_season",),
    ),
    "fermentation": Shown(
        N_("A tank, cut open"),
        N_(
            "Drawing: three round wooden tanks under a roof with a vent; the middle one is cut "
            "open and shows wash under foam, with a coil of cooling pipe in it; a pipe brings "
            "juice along the wall."
        ),
        {
            "juice_pipe": N_("Juice pipe, it comes from the mill"),
            "foam": N_("Foam, lifted by the gas that the yeast makes"),
            "wash": N_("Wash, juice in which the sugar turns into alcohol"),
            "cooling_coil": N_("Cooling coil, it carries the yeast's own heat away"),
            "ridge_vent": N_("Vent, an open way out for the gas"),
        },
        N_("In a tank now"),
        ("wash_gravity_now",),
    ),
    "still-house": Shown(
        N_("The still house, cut open"),
        N_(
            "Drawing: two copper pot stills over closed furnaces; the swan neck of the first "
            "bends down into a tub with a coil of pipe, the second runs through a condenser to "
            "the parrot and a can."
        ),
        {
            "first_pot": N_("First pot, it boils the wash"),
            "swan_neck": N_("Swan neck, where vapor rises and bends over"),
            "worm_tub": N_("Worm tub, cold water around a coil turns vapor back into liquid"),
            "second_pot": N_("Second pot, it takes low wines and gives spirit"),
            "parrot": N_("Parrot, the cup at the outlet in which the strength is read"),
        },
        N_("At the parrot"),
        ("run_abv_now",),
    ),
    "cask-store": Shown(
        N_("The store, cut open"),
        N_(
            "Drawing: casks on their sides in two rows of racks between thick walls, one of them "
            "cut across to show its spirit; a cellar hand holds a dipping rod; vapor leaves by "
            "the vent in the ridge of the roof."
        ),
        {
            "racks": N_("Racks, so that air goes round every cask"),
            "bung": N_("Bung, the only door of a cask, always on top"),
            "rod": N_("Rod, wetted up to where the spirit stands"),
            "walls": N_("Walls, thick, so that the day's heat comes in late"),
            "ridge_vent": N_("Ridge vent, open all night: vapor leaves this way"),
        },
        N_("In an average cask now"),
        ("cask_mean_now", "cask_mean_filling", "angels_share_to_date"),
    ),
    "bottling": Shown(
        N_("The bench, step by step"),
        N_(
            "Drawing: a long bench under a roof; on the left a large jar with slices of fruit in "
            "spirit, then a small tank above bottles being filled, a filter, a corking lever, and"
            " bottles with their labels on the right."
        ),
        {
            "infusion": N_("Infusion, spirit on fruit and spice until it tastes right"),
            "blend": N_("Blend, spirit and water brought to the strength of the label"),
            "filter": N_("Filter, it holds back what is cloudy"),
            "filler": N_("Filler, one bottle after another to the same height"),
            "corker": N_("Corker, a lever and an arm"),
            "label": N_("Label, put on by hand with the number of the lot"),
        },
        N_("In a bottle of this year"),
        ("water_share_this_year",),
    ),
    "laboratory": Shown(
        N_("The bench of the laboratory"),
        N_(
            "Drawing: a bench with a balance, a tall glass cylinder with a float in it, a "
            "thermometer, and a small glass still that drips through a slanting cooler into a "
            "flask; on a shelf above, a row of small closed bottles."
        ),
        {
            "balance": N_("Balance, sugar and spirit by weight"),
            "cylinder": N_("Cylinder, the more alcohol, the deeper the float sinks"),
            "thermometer": N_("Thermometer, because warm spirit looks stronger than it is"),
            "glass_still": N_("Glass still, it frees spirit from the sugar that hides its strength"),
            "lot_samples": N_("Samples, a small bottle of every lot, none for drinking"),
        },
        N_("Two floats, as last read"),
        ("run_abv_now", "hearts_abv_today"),
    ),
    "tasting-room": Shown(
        N_("Your place at the table"),
        N_(
            "Drawing: a table with stools under an open roof, hills behind; on it a row of "
            "tasting glasses on a mat, a jug of water, bread, and a small measure with its line."
        ),
        {
            "flight": N_("Flight, small samples from the lightest to the strongest"),
            "mat": N_("Mat, a place for every glass, with its name and strength"),
            "water": N_("Water, between glasses and a few drops into them"),
            "bread": N_("Bread, to eat before and between"),
            "measure": N_("Measure, the same line for everyone"),
        },
        N_("In a sample of today"),
        ("sample_drinks_today", "sample_volume_today"),
    ),
}
