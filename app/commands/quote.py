"""``drystone quote``: what an order comes to, before buying."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from ..reading_words import add_limits_argument, limits_said

if TYPE_CHECKING:
    from ..quoting import BoardQuote, Quote

SUMMARY = "sheets, bound, weight, time, cost and price of an order"
EXAMPLES = """\
  drystone quote order.toml
  drystone quote order.toml --seconds 30 --pdf quote.pdf --csv quote.csv
  drystone quote boxes.drystone --as-laid
  drystone quote order.toml --save-setup     write the set-up file to edit"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("file", metavar="ORDER|JOB", help="an order or a job file")
    parser.add_argument(
        "--as-laid", action="store_true", help="keep the layout that the job has"
    )
    parser.add_argument(
        "--rack", action="store_true", help="use the offcuts on the rack as well"
    )
    parser.add_argument(
        "--clean",
        choices=("neither", "top", "bottom", "both"),
        help="the face that must stay free of torn fibres, whatever the order says",
    )
    parser.add_argument("--pdf", metavar="FILE", help="write a page for the customer")
    parser.add_argument("--csv", metavar="FILE", help="write the lines as CSV")
    add_limits_argument(parser)
    parser.add_argument("--setup", metavar="FILE", help="the shop's set-up file")
    parser.add_argument(
        "--save-setup", action="store_true", help="write the set-up in use to its file"
    )
    add_search(parser)


def add_search(parser: argparse.ArgumentParser) -> None:
    """Declare how long and how the engine searches."""
    parser.add_argument(
        "--seconds", type=float, default=10.0, metavar="S", help="time to lay out"
    )
    parser.add_argument(
        "--passes", type=int, metavar="N", help="passes instead: the same every run"
    )
    parser.add_argument("--seed", type=int, default=0, metavar="N")
    parser.add_argument("--workers", type=int, default=1, metavar="N")


def run(args: argparse.Namespace) -> int:
    """Work the quote out and print it; return the exit status."""
    from dataclasses import replace

    from ...io.atomic import write_atomically
    from ...io.quote_sheet import quote_csv, quote_pdf
    from ...io.setup_file import read_setup, write_setup
    from ...nesting.model.rules import CleanFace
    from .. import kernel_cache
    from ..opening import Wishes, open_job
    from ..quoting import make_quote, quote_layout

    path = Path(args.setup) if args.setup else None
    setup = read_setup(path)
    wishes = Wishes(limits=limits_said(args))
    usual = setup.practice.cutting()
    job = open_job([Path(args.file)], wishes, args.quiet, usual).job
    if args.rack:
        from ...io.rack import Rack

        with Rack() as rack:
            found = tuple(board.as_stock() for board in rack.boards())
        job = replace(job, stock=(*job.stock, *found))
    if args.clean:
        cutting = replace(job.cutting, clean=CleanFace(args.clean))
        job = replace(job, cutting=cutting)
    if args.as_laid:
        quote = quote_layout(job, setup)
    else:
        kernel_cache.warm(kernel_cache.saying(args.quiet))
        quote = make_quote(
            job,
            setup,
            seconds=args.seconds,
            passes=args.passes,
            seed=args.seed,
            workers=args.workers,
        )
    money = setup.prices.currency
    rows = price_rows(quote, money)
    total = ("Price", amount(quote.cost.price, money))
    if args.pdf:
        data = quote_pdf(
            job.name,
            facts_of(quote),
            rows,
            total,
            customer_remarks(quote),
            job.units,
            parts=part_rows(quote),
        )
        write_atomically(Path(args.pdf), data)
    if args.csv:
        head = [("item", "quantity", "amount")]
        write_atomically(
            Path(args.csv), quote_csv([*head, *rows, (total[0], "", total[1])])
        )
    if args.save_setup:
        write_setup(setup, path)
    if args.json:
        document = {"drystone": "quote", "version": 1, "units": "mm", **quote.as_dict()}
        print(json.dumps(document, indent=1))
    else:
        for line in lines_of(quote, money):
            print(line)
    return 1 if quote.missing else 0


def amount(value: float, currency: str) -> str:
    """Return an amount of money."""
    return f"{currency} {value:.2f}".strip()


WASTE = "included above: board that ends as waste"
"""What stands before the share of the price that pays for waste."""


def _cuts(count: int) -> str:
    return f"{count} cut{'s' if count != 1 else ''}"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


FOR_CUSTOMERS = frozenset(("corners-left", "relief-left-out", "cutter-too-wide"))
"""Codes of advice about the parts themselves; the rest is the shop's own business."""


def customer_remarks(quote: Quote) -> list[str]:
    """Return what the customer should know, as whole sentences."""
    said = [a.message for a in quote.advice if a.code in FOR_CUSTOMERS]
    if quote.missing:
        count = quote.missing
        said.insert(
            0,
            f"{count} piece{'s' if count > 1 else ''} found no place on the boards and "
            f"{'are' if count > 1 else 'is'} not in this price",
        )
    return [_sentence(text) for text in said]


def part_rows(quote: Quote) -> list[tuple[str, str, str, str]]:
    """Return the parts of the order: name, size, board, pieces."""
    from ...nesting.model.lengths import size_text, with_unit

    units = quote.job.units
    rows = []
    for part in quote.job.parts:
        if part.quantity:
            thick = f" {with_unit(part.thickness, units)}" if part.thickness else ""
            size = f"{size_text(*part.outline.size, units)} {units}"
            board = f"{part.material}{thick}".strip()
            rows.append((part.name, size, board, str(part.quantity)))
    return rows


def price_rows(quote: Quote, currency: str) -> list[tuple[str, str, str]]:
    """Return the price line by line."""
    from ...nesting.shop.time import spoken

    cost = quote.cost
    rows = [
        (b.name, f"{b.count} at {b.price:.2f}", amount(b.price * b.count, currency))
        for b in quote.bought
    ]
    if cost.kept:
        rows.append(("leftovers kept", "credit", amount(-cost.kept, currency)))
    rows.append(("machine", quote.time.running.text, amount(cost.machine, currency)))
    if cost.labour:
        handling = spoken(quote.time.handling)
        rows.append(("handling", handling, amount(cost.labour, currency)))
    if cost.set_up:
        rows.append(("set-up", "", amount(cost.set_up, currency)))
    if cost.mark_up:
        rows.append(("mark-up", "", amount(cost.mark_up, currency)))
    return rows


def facts_of(quote: Quote) -> list[tuple[str, str]]:
    """Return what the order comes to, as labels and values."""
    from ...nesting.model.lengths import share_text, weight_text

    job = quote.job
    wanted = sum(part.quantity for part in job.parts)
    return [
        (
            "Pieces",
            f"{wanted} of {len(job.parts)} kind{'s' if len(job.parts) != 1 else ''}",
        ),
        ("Sheets", quote.sheets_text()),
        ("Yield", share_text(quote.share)),
        ("Weight", f"about {weight_text(quote.weight, job.units)}"),
        ("Machine runs", quote.time.running.text),
        ("With handling", quote.time.total.text),
    ]


def board_lines(board: BoardQuote, units: str, currency: str) -> list[str]:
    """Return what is bought of one board, and what is proven about less."""
    from ...nesting.model.lengths import share_text, with_unit

    thick = f" {with_unit(board.thickness, units)}" if board.thickness else ""
    name = f"{board.material or 'board'}{thick}"
    count = f"{board.sheets} sheet{'s' if board.sheets != 1 else ''}"
    if board.offcuts:
        count += f" and {board.offcuts} offcut{'s' if board.offcuts != 1 else ''}"
    cost = amount(board.cost, currency)
    lines = [f"{name}: {count}, yield {share_text(board.share)}, {cost}"]
    if board.missing:
        lines.append(f"  {board.missing} copies without a place")
    elif board.bound is None:
        lines.append("  nothing is proven about fewer sheets")
    else:
        many = f"fewer than {board.bound} sheet{'s' if board.bound != 1 else ''}"
        fewest = "proven fewest" if board.fewest else f"{many} cannot do"
        least = f"no mix can cost less than {amount(board.least_cost or 0, currency)}"
        cheapest = "proven cheapest" if board.cheapest else least
        lines.append(f"  {fewest}, {cheapest}")
        if board.bound > 1:  # fewer than one is none at all
            lines.append(f"  since {board.why}")
        elif not board.bound:
            lines.append("  offcuts may do")
    return lines


def lines_of(quote: Quote, currency: str) -> list[str]:
    """Return the quote as lines for a person."""
    from ...nesting.model.lengths import size_text, weight_text

    units = quote.job.units
    lines = [quote.job.name]
    lines += [f"  {label:<14}{value}" for label, value in facts_of(quote)]
    for bought in quote.bought:
        weight = weight_text(bought.weight, units)
        lines.append(
            f"    {bought.count} × {bought.name}, about {weight} each"
            + (f": {bought.lift}" if bought.lift else "")
        )
    for cuts in quote.sawing:
        pieces = ", ".join(
            f"{n} of {size_text(w, h, units)} {units}"
            for w, h, n in cuts.breakdown.sizes
        )
        lines.append(f"    sawn into {pieces} by {_cuts(len(cuts.breakdown.cuts))}")
    lines.append("  what to buy, board by board")
    for told in quote.materials:
        said = board_lines(told, units, currency)
        lines += [f"    {text}" for text in said]
    lines.append("  price")
    for item, count, value in price_rows(quote, currency):
        lines.append(f"    {item[:44]:<45}{count:>18}{value:>12}")
    waste = amount(quote.cost.waste, currency)
    lines.append(f"    {'price':<63}{amount(quote.cost.price, currency):>12}")
    lines.append(f"    {WASTE:<63}{waste:>12}")
    lines += [f"  {advice.weight.value}: {advice.message}" for advice in quote.advice]
    return lines
