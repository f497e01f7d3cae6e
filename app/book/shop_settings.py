"""Which values the shop's records have, what they are called and what they are for."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication

from ...nesting.model.machine import BoardFamily, CutterKind, ZZero
from .settings import Kind, Setting


def _tr(text: str) -> str:
    return QCoreApplication.translate("shop_settings", text)


def machine() -> list[Setting]:
    """Return the values of a machine."""
    n, s = Kind.NUMBER, Kind.SPEED
    return [
        Setting("name", _tr("&Name"), _tr("What people call it"), Kind.TEXT),
        Setting("bed.0", _tr("Bed along &x"), _tr("Size of the table"), least=10),
        Setting("bed.1", _tr("Bed along &y"), _tr("Size of the table"), least=10),
        Setting(
            "travel.0",
            _tr("Travel along x"),
            _tr("Reach of the cutter's centre; 0 for the size of the bed"),
        ),
        Setting(
            "travel.1",
            _tr("Travel along y"),
            _tr("Reach of the cutter's centre; 0 for the size of the bed"),
        ),
        Setting(
            "stops.0",
            _tr("Stops along x"),
            _tr("Where fixed stops hold a blank's corner, from the least reach"),
            least=-10_000,
            most=10_000,
        ),
        Setting(
            "stops.1",
            _tr("Stops along y"),
            _tr("Where fixed stops hold a blank's corner, from the least reach"),
            least=-10_000,
            most=10_000,
        ),
        Setting(
            "nut_diameter",
            _tr("Collet nut"),
            _tr("Its width, which must not meet a clamp; 0 for none"),
            most=500,
        ),
        Setting(
            "shoe_diameter",
            _tr("Dust shoe"),
            _tr("Its width, which must not meet a clamp; 0 for none"),
            most=1000,
        ),
        Setting(
            "open_end",
            _tr("The bed is open along x"),
            _tr("A longer sheet can be pushed through in positions"),
            Kind.FLAG,
        ),
        Setting(
            "collets",
            _tr("&Collets"),
            _tr("Shank diameters it can hold, parted by semicolons"),
            Kind.LENGTHS,
        ),
        Setting("rpm_min", _tr("Slowest spindle"), "", n, 0, 100_000, _tr("turns/min")),
        Setting("rpm_max", _tr("Fastest spindle"), "", n, 1, 100_000, _tr("turns/min")),
        Setting("feed_max", _tr("Fastest &feed"), _tr("While cutting"), s, 1),
        Setting("plunge_max", _tr("Fastest &plunge"), _tr("Straight down"), s, 1),
        Setting(
            "rapid", _tr("Rapid moves"), _tr("Sideways, cutting nothing"), s, 1, 200_000
        ),
        Setting("rapid_z", _tr("Rapid up and down"), "", s, 1, 200_000),
        Setting(
            "acceleration",
            _tr("Acceleration"),
            _tr("Of the slower axis; small machines have some hundreds"),
            Kind.ACCELERATION,
            1,
            50_000,
        ),
        Setting(
            "corner_deviation",
            _tr("Corner rounding"),
            _tr("How far the control may cut a corner; 0 stops at each"),
            most=5,
        ),
        Setting(
            "chip_factor",
            _tr("Share of the chip chart"),
            _tr("Light machines begin at 30 to 50 % of a cutter maker's chart"),
            Kind.SHARE,
            1,
            200,
        ),
        Setting(
            "rubbing",
            _tr("An edge rubs below"),
            _tr("Chip load below which it rubs and burns instead of cutting"),
            most=1,
        ),
        Setting(
            "rpm_usual",
            _tr("Usual spindle speed"),
            _tr("Where to begin when machine and cutter allow it"),
            n,
            1,
            100_000,
            _tr("turns/min"),
        ),
        Setting(
            "guess.0",
            _tr("Times: at least"),
            _tr("Of the estimate, until real times were recorded"),
            Kind.SHARE,
            1,
            100,
        ),
        Setting(
            "guess.1",
            _tr("Times: at most"),
            _tr("Of the estimate, until real times were recorded"),
            Kind.SHARE,
            100,
            1000,
        ),
        Setting(
            "pin_edge",
            _tr("Pins stand off"),
            _tr("Open bed: from its end and the sheet's sides to a pin's middle"),
            least=1,
            most=200,
        ),
        Setting(
            "pin_room",
            _tr("Room round a pin"),
            _tr("Open bed: radius that no cut may enter"),
            least=1,
            most=200,
        ),
        Setting(
            "pin_diameter",
            _tr("Pins are wide"),
            _tr("Open bed: diameter of the pins, and of the holes drilled for them"),
            least=0.5,
            most=100,
        ),
        Setting("tool_changer", _tr("It changes cutters by itself"), "", Kind.FLAG),
        Setting(
            "run_minutes",
            _tr("Runs at a stretch"),
            _tr("A trim router wants a rest after about 15 min; 0 for no limit"),
            n,
            0,
            10_000,
            _tr("min"),
        ),
        Setting("change_minutes", _tr("Changing a cutter"), "", n, 0, 600, _tr("min")),
        Setting(
            "load_minutes",
            _tr("Loading a blank"),
            _tr("Clamp, load, unload, sweep"),
            n,
            0,
            600,
            _tr("min"),
        ),
        Setting(
            "spin_up",
            _tr("Spindle starts in"),
            _tr("Before the first cut with each cutter"),
            n,
            0,
            600,
            _tr("s"),
        ),
        Setting(
            "clearance",
            _tr("Lifts above the board"),
            _tr("Height of rapid moves above the board"),
            most=500,
        ),
        Setting("rate", _tr("An &hour costs"), _tr("Of the running machine"), n),
    ]


def cutter() -> list[Setting]:
    """Return the values of a cutter."""
    kinds = tuple((kind, _tr(kind.value)) for kind in CutterKind)
    return [
        Setting("name", _tr("Nam&e"), _tr("What people call it"), Kind.TEXT),
        Setting(
            "kind", _tr("Kin&d"), _tr("Form of its edges"), Kind.CHOICE, choices=kinds
        ),
        Setting("diameter", _tr("D&iameter"), "", least=0.1, most=200),
        Setting(
            "cut_width",
            _tr("Cut &width"),
            _tr("Width of its slot as measured; 0 to use the diameter"),
            most=200,
        ),
        Setting("flutes", _tr("F&lutes"), _tr("Cutting edges"), Kind.WHOLE, 1, 12),
        Setting(
            "cutting_length",
            _tr("Cutting len&gth"),
            _tr("Length of the edges; 0 when nobody said"),
            most=300,
        ),
        Setting(
            "up_cut_length",
            _tr("Up-cut tip"),
            _tr("Compression spirals: length of the up-cut part"),
            most=100,
        ),
        Setting(
            "shank",
            _tr("Shan&k"),
            _tr("Diameter of the clamped end"),
            least=0.1,
            most=100,
        ),
        Setting(
            "max_rpm",
            _tr("Fastest allowed"),
            _tr("By its maker; 0 when nobody said"),
            Kind.NUMBER,
            0,
            100_000,
            _tr("turns/min"),
        ),
        Setting(
            "rpm",
            _tr("Own speed"),
            _tr("What you set with it; 0 to take what is worked out"),
            Kind.NUMBER,
            0,
            100_000,
            _tr("turns/min"),
        ),
        Setting(
            "feed",
            _tr("Own feed"),
            _tr("What you set with it; 0 to take what is worked out"),
            Kind.SPEED,
        ),
        Setting(
            "pass_depth",
            _tr("Own depth of a pass"),
            _tr("What you take with it; 0 to take what the board says"),
            most=100,
        ),
    ]


def board() -> list[Setting]:
    """Return the values of a board."""
    families = tuple((family, _tr(family.value)) for family in BoardFamily)
    return [
        Setting("name", _tr("Name"), _tr("Parts and stock name the same"), Kind.TEXT),
        Setting(
            "words",
            _tr("Also called"),
            _tr("A material whose name holds one of these is this board"),
            Kind.WORDS,
        ),
        Setting(
            "family",
            _tr("Cuts like"),
            _tr("Column of the chip-load chart"),
            Kind.CHOICE,
            choices=families,
        ),
        Setting(
            "density",
            _tr("Density"),
            _tr("Weigh a sheet: kg over m³"),
            Kind.NUMBER,
            1,
            20_000,
            _tr("kg/m³"),
        ),
        Setting(
            "depth_ratio",
            _tr("Depth of a pass"),
            _tr("As a share of the cutter's diameter"),
            Kind.SHARE,
            1,
            300,
        ),
        Setting(
            "chip_share",
            _tr("Chip load"),
            _tr("Share of the chart's column that suits this board"),
            Kind.SHARE,
            1,
            300,
        ),
    ]


def saw() -> list[Setting]:
    """Return the values of the saw."""
    return [
        Setting("kerf", _tr("Saw kerf"), _tr("Width of the saw's cut"), most=50),
        Setting(
            "trim",
            _tr("Trimmed off each edge"),
            _tr("Of the sheet, before it is ripped; 0 for none"),
            most=500,
        ),
        Setting(
            "least_side",
            _tr("Narrower is waste"),
            _tr("Strips narrower than this are no blanks"),
            most=2000,
        ),
    ]


def depth() -> list[Setting]:
    """Return how deep and how this shop cuts."""
    zeros = tuple((zero, _tr(zero.value)) for zero in ZZero)
    return [
        Setting(
            "z_zero",
            _tr("&Z zero is"),
            _tr("Where depth is counted from"),
            Kind.CHOICE,
            choices=zeros,
        ),
        Setting(
            "overcut",
            _tr("Overcut"),
            _tr("Depth cut into the spoilboard; not used with an onion skin"),
            most=20,
        ),
        Setting(
            "plunge_share", _tr("Plunge"), _tr("Share of the feed"), Kind.SHARE, 1, 100
        ),
        Setting(
            "stepover",
            _tr("Stepover in pockets"),
            _tr("Sideways step as a share of the diameter"),
            Kind.SHARE,
            1,
            100,
        ),
        Setting(
            "pocket_depth",
            _tr("Depth of pockets"),
            _tr("Share of the thickness"),
            Kind.SHARE,
            0,
            100,
        ),
        Setting("engrave_depth", _tr("Depth of engraving"), "", most=50),
    ]


def holding() -> list[Setting]:
    """Return how this shop holds parts down."""
    return [
        Setting(
            "onion_skin",
            _tr("&Onion skin"),
            _tr("Thickness left under outside edges; 0 for none"),
            most=20,
        ),
        Setting("tab_width", _tr("&Tab width"), _tr("0 for no tabs"), most=100),
        Setting("tab_height", _tr("Tab height"), "", most=100),
        Setting(
            "tab_spacing",
            _tr("A tab every"),
            _tr("So much of edge; three at least on each part"),
            least=10,
        ),
        Setting(
            "tab_corner",
            _tr("Tabs off corners"),
            _tr("So much more than a cut width"),
            most=100,
        ),
        Setting(
            "small_part",
            _tr("Small is narrower than"),
            _tr("Such a part is held down specially"),
        ),
        Setting(
            "small_area",
            _tr("or below"),
            _tr("Such a part is held down specially"),
            Kind.AREA,
            0,
            1e9,
        ),
        Setting(
            "screw_distance",
            _tr("Screws away from paths"),
            _tr("Least distance to the edge of any slot"),
            least=1,
            most=500,
        ),
        Setting(
            "screw_edge",
            _tr("Screws off the edge"),
            _tr("Least distance from the blank's own edge"),
            most=500,
        ),
        Setting(
            "screw_apart",
            _tr("Screws apart"),
            _tr("No second one nearer than this to the first"),
            most=2000,
        ),
        Setting(
            "lift",
            _tr("One person lifts"),
            _tr("With both hands in the ideal place; two lift a third more"),
            Kind.NUMBER,
            1,
            100,
            _tr("kg"),
        ),
        Setting(
            "screws",
            _tr("Screws looked for"),
            _tr("On each blank's shop sheet, where the job asks for no number"),
            Kind.WHOLE,
            0,
            100,
        ),
    ]


def beginnings() -> list[Setting]:
    """Return what new jobs begin with."""
    return [
        Setting("cut_width", _tr("Cut width"), _tr("Of a new job"), most=200),
        Setting("allowance", _tr("Allowance"), _tr("Of a new job"), most=1000),
        Setting("margin", _tr("Margin"), _tr("Of a new job"), most=1000),
        Setting(
            "keep_side",
            _tr("Leftovers: least side"),
            _tr("Of a new job: what is narrower is not worth keeping"),
            most=2000,
        ),
        Setting(
            "keep_square",
            _tr("Leftovers: least square"),
            _tr("Of a new job: what has less area than such a square is waste"),
            most=2000,
        ),
        Setting(
            "keep_neck",
            _tr("Leftovers: least neck"),
            _tr("Of a new job: narrower necks and fingers are waste"),
            most=2000,
        ),
    ]


def prices() -> list[Setting]:
    """Return what enters a price."""
    n = Kind.NUMBER
    return [
        Setting("currency", _tr("Currency"), _tr("Written before amounts"), Kind.FREE),
        Setting("labour_rate", _tr("An hour of handling"), "", n),
        Setting("set_up", _tr("Once for each job"), "", n),
        Setting(
            "keep_share",
            _tr("Leftovers count"),
            _tr("Share of the sheet's price a kept leftover is credited with"),
            Kind.SHARE,
            0,
            100,
        ),
        Setting(
            "mark_up", _tr("Mark-up"), _tr("Added on the cost"), Kind.SHARE, 0, 1000
        ),
    ]
