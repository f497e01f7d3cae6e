"""What the guide tells, in Markdown, topic by topic."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QCoreApplication

from ...io.cautions import GENERAL
from ...io.finding_table import finding_rows
from ..book.findings_box import OWN_CURES


@dataclass(frozen=True)
class Topic:
    """One page of the guide.

    Attributes
    ----------
    name : str
        Stays the same in every language; what opens the guide at a page.
    title : str
        What stands in the list.
    text : callable
        Returns the page in Markdown; some pages take a moment to put together.
    """

    name: str
    title: str
    text: Callable[[], str]


def tr(text: str) -> str:
    """Translate words of the guide."""
    return QCoreApplication.translate("Guide", text)


def topics() -> list[Topic]:
    """Return all pages in reading order."""
    return [
        Topic("start", tr("From drawing to cut parts"), _start),
        Topic("parts", tr("Bring parts in"), _parts),
        Topic("stock", tr("Say what to cut from"), _stock),
        Topic("cutting", tr("Set gap, margin and bed"), _cutting),
        Topic("nest", tr("Let the engine lay out"), _nest),
        Topic("hand", tr("Lay out by hand"), _hand),
        Topic("compare", tr("Compare layouts"), _compare),
        Topic("price", tr("Before you buy: quote and what if"), _price),
        Topic("hold", tr("Inside corners, tabs and screws"), _hold),
        Topic("over", tr("Hand over"), _over),
        Topic("rack", tr("Keep leftovers on the rack"), _rack),
        Topic("shop", tr("Set up your machine and cutters"), _shop),
        Topic("files", tr("Save, and get work back"), _files),
        Topic("keys", tr("Keys"), _keys),
        Topic("findings", tr("What findings mean"), _findings),
        Topic("care", tr("Take care"), _care),
    ]


def _start() -> str:
    return tr(
        "# From drawing to cut parts\n\n"
        "1. **Parts.** Drop DXF or SVG drawings on the window, or an order. Say how "
        "many of each are wanted.\n"
        "2. **Stock.** Say what they are cut from: sheets you can buy, and the "
        "offcuts that lean on the wall.\n"
        "3. **Cutting.** Say how wide the cutter cuts and how far parts stay from "
        "the edge.\n"
        "4. **Nest.** The engine lays everything out. Better layouts appear as they "
        "are found; stop when you like what you see.\n"
        "5. **The bench.** Move parts by hand where you know better; what you lock "
        "stays.\n"
        "6. **Hand over.** The files for toolpathing and the sheets of paper for the "
        "bench are written and checked.\n"
        "7. **After cutting.** What is left goes back on the rack, and the next job "
        "uses it.\n\n"
        "The strip on top always says what the layout comes to: sheets, whether "
        "fewer are possible, yield, what the boards cost, how long it cuts. Every "
        "step can be undone with Ctrl+Z, a whole nest as one.\n\n"
        "To look around, open the sample order from the *Job* menu."
    )


def _parts() -> str:
    return tr(
        "# Bring parts in\n\n"
        "Drop DXF or SVG drawings anywhere on the window, or press *Add drawings* "
        "(Ctrl+I). Each closed outline becomes a part; loops in it become holes or "
        "marks. Curves stay true curves.\n\n"
        "**A plain panel** needs no drawing: *Add panel*, then type its size. Rows "
        "of a spreadsheet can be pasted into the table: name, quantity, length, "
        "width, and if you like material, thickness and turn.\n\n"
        "**A drawing that does not say its unit** is asked about: choose the reading "
        "whose size is right, or type one size that you know.\n\n"
        "**A drawing larger than usual** (more than 105,000 entities or 200,000 "
        "vertices) is asked about, too: reading it takes longer and more memory, and "
        "can be stopped.\n\n"
        "**Layers and colours** below the parts: say what is done along each, and read "
        "the drawings again; their parts follow. Drawings of a job that was opened are "
        "looked for where they were, then beside the job.\n\n"
        "**Findings** below the table tell what was mended, guessed or left out. "
        "Choose one: the picture shows where in the drawing it lies, and the line "
        "under it what to do.\n\n"
        "**Turn** says which turns a part may take: *any*, *90* (quarter turns), "
        "*180* (half turns), *grain* (its length with the grain), *fixed*, or "
        "degrees with commas. **Flip** allows a part to be laid face down. **First** "
        "decides what is placed first when not everything fits.\n\n"
        "A part can only be cut from stock of its material and thickness."
    )


def _stock() -> str:
    return tr(
        "# Say what to cut from\n\n"
        "*Add sheet* for what can be bought, *Add offcut* for one leftover of the "
        "rack. Offcuts are used before whole sheets.\n\n"
        "**Count** is *as needed*, or how many there are. **Grain** runs along the "
        "length, the width, or there is none. *From a drawing* takes an offcut's "
        "outline from a DXF or SVG.\n\n"
        "**Sheets larger than the bed** are sawn into blanks that fit it before "
        "anything is laid out; *Bed and break-down* on the page *Cutting* shows the "
        "saw cuts. What is counted and paid are still whole sheets. Where a locked "
        "copy lies on a whole sheet, that sheet alone stays as it is.\n\n"
        "**Keep-outs** are places no cut may touch, such as screws and clamps. Draw "
        "them on the bench: choose a round or a rectangular one in the *Layout* "
        "menu and drag. Press one to move it, drag its edge to resize it, Del takes "
        "it away.\n\n"
        "*Put on bench* lays an empty blank there, to be filled by hand. An empty "
        "blank on the bench is also a wish: *Nest* uses it before others."
    )


def _cutting() -> str:
    return tr(
        "# Set gap, margin and bed\n\n"
        "*Cut and gap*, on the page *Cutting*: the **gap** between two parts is the "
        "cutter's cut width and an allowance. "
        "Between two slots something must stay that holds; 1 to 2 mm is common "
        "practice in plywood.\n\n"
        "The **margin** is the least distance from a part to the blank's edge.\n\n"
        "What leftover is worth keeping is said by the three sizes *Leftovers*. Of two "
        "layouts that are as good, the one with the larger leftover is taken.\n\n"
        "The **datum** is the corner that the exported coordinates count from; it is "
        "marked on the bench. The **bed** is drawn round each blank, so that you see "
        "what does not fit the machine.\n\n"
        'Lengths can be typed as `12`, `12,5`, `1/2 in`, `1-1/2"` or `2\' 3"`, '
        "whatever unit is shown."
    )


def _nest() -> str:
    return tr(
        "# Let the engine lay out\n\n"
        "- *Nest* (Ctrl+Return) lays out everything that is not locked.\n"
        "- *Fill around what is there* (Ctrl+Shift+Return) leaves all that lies on "
        "the bench and places only what is in the tray.\n"
        "- *Nest the blank of the selected part anew* leaves all other blanks.\n\n"
        "While it searches, each better layout appears at once, and the small plot "
        "shows how the yield has grown. The dashed line is a yield that no layout "
        "can pass: when the line comes near it, waiting longer gains little.\n\n"
        "*Stop and keep* (Ctrl+.) takes the layout shown, *Discard* leaves "
        "everything as it was. Either way one Ctrl+Z goes back.\n\n"
        "*Proven fewest* in the strip means that no layout on fewer sheets exists. "
        "*Fewer than 6 is impossible* means that nobody knows about the numbers "
        "between.\n\n"
        "What found no room waits in the tray; rest the pointer on it to read why."
    )


def _hand() -> str:
    return tr(
        "# Lay out by hand\n\n"
        "**Drag** a part: it slides along its neighbours at exactly the gap, rounds "
        "their corners, drops into holes that have room, and never overlaps. It goes "
        "over to another blank where there is room under the pointer. With *Ctrl* "
        "held it passes through, and what lies wrongly "
        "is hatched and marked until it is mended.\n\n"
        "**Turn** by the round handle above the selection, or with R. The handle "
        "snaps to 15° and to the edge of a neighbour; a neighbour in the way pushes "
        "the part aside, or stops it. Turns that the part's rule does not allow are "
        "left out, and the status line says so.\n\n"
        "**By numbers**: Return opens a small plate for x, y and turn of what is "
        "selected.\n\n"
        "**Edges in line**: near a side or the middle of something close by, a "
        "dragged part falls in line with it, and a guide says with what. G ends "
        "that.\n\n"
        "**Several parts**: drag a box from an empty place, or Shift+click. The "
        "menu of the right button, and *Arrange* in the menu bar, align, distribute, "
        "swap and lock them, send them to another blank, or put them in the tray.\n\n"
        "**Lock** (L) what must stay: the engine and your own hand leave it.\n\n"
        "**The tray** holds copies not placed. Drag one onto the bench, or press "
        "Return. Double click a hole to fill it from the tray.\n\n"
        "**Measure** (M): drag from one edge to another. Rest the pointer on a part to "
        "read its size, what is nearest to it and what is cut in it.\n\n"
        "*View ▸ Table of placed copies* (Alt+6) lets you type where each copy "
        "lies; it does all that the bench does, without a mouse."
    )


def _compare() -> str:
    return tr(
        "# Compare layouts\n\n"
        "Every nest is kept aside while the job is open, and so is what lay on the "
        "bench before it. *Keep this layout for comparing* (Ctrl+K) keeps one by "
        "hand.\n\n"
        "*Compare layouts* (Ctrl+Shift+K) shows two of them side by side with their "
        "figures; the better figure is marked. *Take this one* puts it on the bench "
        "as one step, which Ctrl+Z takes back.\n\n"
        "Kept layouts are not saved with the job. When the order has changed since, "
        "they are shown as far as they still fit."
    )


def _price() -> str:
    return tr(
        "# Before you buy: quote and what if\n\n"
        "**Quote**, on the page *Hand over*, says what the layout on the bench comes "
        "to: boards to buy, weight, machine time, cost line by line and a price. "
        "Without a layout *Work it out* makes a quick one. It can be saved as a page "
        "for the customer (PDF) or as rows for a spreadsheet (CSV). Hours and mark-up "
        "stand under *Prices* on the page *Cutting*.\n\n"
        "**What if** (Alt+5) tries the same order with other values: another cut "
        "width, margin or sheet size, other turns, twice as many. Write values "
        "parted by semicolons and press *Try them*. Each variant is laid out and "
        "quoted beside your work; the best figure of each column is marked, and *Plot* "
        "draws them. *Take this one* makes its values and its layout the job's, and "
        "Ctrl+Z takes that back.\n\n"
        "Times are estimates and told as a range. Write under *Machine* how long a job "
        "really ran, and later estimates are corrected by it."
    )


def _hold() -> str:
    return tr(
        "# Inside corners, tabs and screws\n\n"
        "On the page *Cutting*, under *Inside corners* and *Holding down*:\n\n"
        "**Inside corners** stay as round as the cutter. *Relief* cuts a little "
        "further into them, so that something square fits: as a dog-bone or as a "
        "T-bone, for all parts or for one. Corners and slots that the cutter does not "
        "reach are counted and drawn.\n\n"
        "**Tabs** hold parts in the board until they are cut free by hand. They are "
        "put on small parts or on all, keep off corners, and can be moved one by "
        "one.\n\n"
        "**Screw spots** are places in the waste where a screw holds the blank down "
        "without coming near a path. They are shown on the bench and on the shop "
        "sheets; what you have screwed down already is better drawn as a keep-out."
    )


def _rack() -> str:
    return tr(
        "# Keep leftovers on the rack\n\n"
        "The rack holds the boards that stand in your shop, for all jobs. It is on the "
        "page *Stock*, under *On the rack*.\n\n"
        "**Put one there**: type its size, or draw its outline, or take that from a "
        "drawing; say the material, the thickness and where it stands. It gets a "
        "number: write it on the board.\n\n"
        "**Use one**: choose it and press *Take onto the job*. Offcuts are used before "
        "whole sheets.\n\n"
        "**After cutting**, below it, lists the leftovers of this layout that are "
        "worth keeping. Tick those that you keep and press *Book out of the rack*: the "
        "boards the job used leave the rack, and the leftovers come onto it. *Take "
        "back* undoes that; a job cut once more is booked out once more."
    )


def _shop() -> str:
    return tr(
        "# Set up your machine and cutters\n\n"
        "The page *Cutting* holds both what belongs to this job and what belongs to "
        "your shop. The shop's values stay for all jobs:\n\n"
        "- **Machine**: bed, travel, spindle speeds, feeds, how long things take.\n"
        "- **Cutter drawer**: your cutters. *Cut this job with it* takes the cut width "
        "from one of them. Write a cutter's real cut width there when a test cut says "
        "that it is not its diameter.\n"
        "- **Boards and feeds**: how heavy boards are and how they are cut.\n"
        "- **Depth**, **Prices**, and what **New jobs begin with**.\n"
        "- **Search and units**: which layout is better, how long *Nest* may take, and "
        "mm or inches.\n\n"
        "A value that is not the shop's default carries ↺ and the default; press it to "
        "go back. *Keep as* keeps all of it under a name, as for a second machine.\n\n"
        "All of it are starting values from common practice: your machine's manual "
        "and a test cut come first."
    )


def _over() -> str:
    return tr(
        "# Hand over\n\n"
        "Under *Files and check*, for each blank a DXF and an SVG are written, with "
        "true arcs and splines, a "
        "layer for each operation, in the *Cut order*, counted from the datum; beside "
        "them the shop sheets (PDF), a cut list and a report.\n\n"
        "Before anything counts as done, the files are read back and checked: "
        "counts, sizes, gap, margins, keep-outs, turn rules. If the check refuses "
        "them, or you stop, nothing stays behind. Which files there will be is listed "
        "before they are written.\n\n"
        "The layers: `OUTSIDE`, `INSIDE`, `POCKET`, `ENGRAVE`, `DRILL`, `TAB` are "
        "what to cut; `BLANK_EDGE`, `KEEP_OUT` and `TEXT` only show."
    )


def _files() -> str:
    return tr(
        "# Save, and get work back\n\n"
        "A job is one file, `NAME.drystone`. It holds the parts with their true "
        "curves, so it opens without the drawings.\n\n"
        "Five seconds after a change a copy of unsaved work is written beside the "
        "job. If the program or the machine goes down, the next start offers it.\n\n"
        "Drop a job file on the window to open it; unsaved work is asked about first. "
        "*Job ▸ Open recent* holds the last ten.\n\n"
        "When another program changes the file of an open job, you are told, and "
        "asked again before you save over it."
    )


KEYS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (
        "Everywhere",
        (
            ("F1", "this guide"),
            ("F6, Shift+F6", "next, previous region: verdict, job book, bench, tray"),
            ("Alt+1 … Alt+5", "page of the job book"),
            ("Alt+6", "table of placed copies"),
            ("Ctrl+Return", "nest"),
            ("Ctrl+Shift+Return", "fill around what is there"),
            ("Ctrl+.", "stop and keep"),
            ("Ctrl+K, Ctrl+Shift+K", "keep this layout, compare layouts"),
            ("Ctrl+N, Ctrl+O", "new job, open a job or an order"),
            ("Ctrl+I", "add drawings"),
            ("Ctrl+S, Ctrl+Shift+S", "save, save as"),
            ("Ctrl+Z, Ctrl+Y", "undo, redo"),
            ("Ctrl++, Ctrl+-, Ctrl+0", "zoom in, zoom out, fit"),
        ),
    ),
    (
        "On the bench",
        (
            ("Arrows", "nudge 1 mm; with Shift 10 mm, with Ctrl 0.1 mm"),
            ("Ctrl+Shift+Arrows", "push straight up to a neighbour"),
            ("S", "settle what lies wrongly in the nearest room"),
            ("Return", "type x, y and turn, or the size of a keep-out"),
            ("R, Shift+R", "turn left, turn right"),
            ("F", "flip"),
            ("L", "lock, unlock"),
            ("Del", "put in the tray"),
            (", and .", "previous, next part"),
            ("PgUp, PgDn", "previous, next blank; Shift takes the selection along"),
            ("K", "next keep-out: arrows move it, Del removes it"),
            ("Ctrl+A", "select all on this blank; again, everything"),
            ("Ctrl+D", "duplicate"),
            ("M", "measure; between two selected parts at once"),
            ("G", "line edges up while dragging, or not"),
            ("Space", "hold it and drag to move the view; so does the middle button"),
            ("Ctrl while dragging", "freely, through neighbours"),
            ("Shift while dragging", "along one axis; while turning, coarse steps"),
            ("Esc", "put back what is being dragged; else select nothing"),
            ("Menu key, Shift+F10", "menu of what is selected"),
        ),
    ),
    (
        "In tables",
        (
            ("F2, or just type", "edit a cell"),
            ("Esc", "leave the cell as it was"),
            ("Ctrl+V", "paste rows of a spreadsheet"),
            ("Ctrl+C", "copy rows for a spreadsheet"),
            ("Del", "remove rows"),
        ),
    ),
    (
        "In the tray",
        (("Return", "place one copy where there is room"),),
    ),
)
"""What each key does, by where it does it."""


def _keys() -> str:
    lines = ["# " + tr("Keys"), ""]
    for where, rows in KEYS:
        lines += [
            "## " + tr(where),
            "",
            f"| {tr('Key')} | {tr('What it does')} |",
            "| --- | --- |",
        ]
        lines += [f"| **{key}** | {tr(words)} |" for key, words in rows]
        lines.append("")
    return "\n".join(lines)


def _findings() -> str:
    words = {"info": tr("i"), "warning": tr("! look"), "error": tr("✕ not used")}
    lines = [
        "# " + tr("What findings mean"),
        "",
        tr(
            "Findings with **i** need nothing done. With **!** something was mended, "
            "guessed or left out: look at it. With **✕** something could not be "
            "used at all."
        ),
        "",
        f"| {tr('Code')} | {tr('Weight')} | {tr('What was found')} "
        f"| {tr('Usual cause')} | {tr('What to do')} |",
        "| --- | --- | --- | --- | --- |",
    ]
    for code, weight, found, cause, cure in finding_rows():
        if code in OWN_CURES:
            cure = tr(OWN_CURES[code])
        cells = (code, words.get(weight, weight), found, cause, cure)
        lines.append("| " + " | ".join(c.replace("|", "/") for c in cells) + " |")
    return "\n".join(lines) + "\n"


def _care() -> str:
    lines = ["# " + tr("Take care"), ""]
    lines += [f"- {tr(caution)}" for caution in GENERAL]
    return "\n".join(lines)
