"""Write the reference pages from the program itself, so that they cannot say anything else than it does.

    python -m docs.make_reference          # all pages but json.md: a second
    python -m docs.make_reference --json   # json.md too: runs every example of the help that writes JSON

A test compares the pages with what this script would write, and the keys of json.md where the examples are run. The
list of words and the overview of Python change too often to be kept: `mkdocs build` makes them, by the hook below.
"""

import ast
import inspect as introspection
import json
import re
import sys
import tempfile
from collections.abc import Iterable, Iterator
from enum import Enum
from pathlib import Path
from typing import Any, get_args

from mkdocs.structure.files import File

from boostwright.machine import chamber_defaults
from boostwright.machine.assumptions import ASSUMED_BLEND, RULES, Assumption, Rule, default_assumption
from boostwright.machine.default import Default
from boostwright.nomenclature import LOGGED_QUANTITIES, WORDS
from boostwright.records import campaign, columns
from boostwright.records.build_keys import COUNT, CURVE, KEYS, SWITCH, WORD, Key
from boostwright.records.log import LOG_SUFFIXES
from boostwright.studies.match import assumption_unit
from boostwright.units import _TABLE, display_unit, printed_symbol
from docs.help_examples import HelpExample, commands, copy_of_the_root, help_examples, ran

PAGES = Path(__file__).parent / "reference"
JSON_PAGE = PAGES / "json.md"
SOURCE = Path(__file__).parents[1] / "src" / "boostwright"
NOTE = "*Made from the program by `python -m docs.make_reference`. Do not edit; run it again.*\n"
BUILT = "*Made from the program when this site is built.*\n"
ROOMS = {  # from top to bottom; the two doors are described by their commands and by /openapi.json
    "studies": "one question a file; each takes what it needs and returns a frozen result",
    "publish": "results as figures, words, pages and bundles",
    "inference": "statistics: gain curves, calibration, draws, attribution",
    "machine": "the machine, described and matched",
    "reduction": "from a raw pull to a corrected one",
    "records": "files: read, written, converted to SI once",
    "physics": "one equation a function, SI only, each with its source",
}


def static_pages() -> dict[Path, str]:
    """Every committed page that can be written without running a study, by its path."""
    made = {
        "commands.md": commands_page(),
        "campaign-file.md": campaign_page(),
        "build-file.md": build_page(),
        "assumptions.md": assumptions_page(),
    }
    return {PAGES / name: text for name, text in made.items()}


def on_files(files: Any, config: Any) -> Any:
    """Give the site the two pages that change with every day's work, made as it is built; mkdocs calls this."""
    for name, text in (("words.md", words_page()), ("python.md", python_page())):
        files.append(File.generated(config, f"reference/{name}", content=text))
    return files


def table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    """A Markdown table; an upright line in a cell is kept from ending it, and a star from slanting it."""
    lines = ["| " + " | ".join(head) + " |"]
    lines.append("|" + "---|" * (lines[0].count("|") - 1))
    lines += ["| " + " | ".join(_cell(cell) for cell in row) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def _cell(text: str) -> str:
    plain = text.replace("|", "\\|")
    return plain if "`" in plain or "**" in plain else plain.replace("*", "\\*")


def commands_page() -> str:
    """Every command with its arguments, options, defaults and examples."""
    parts = ["# Commands\n", NOTE]
    parts.append(
        "Exit status: 0 done; 2 the input is wrong, with place, value and remedy on standard error; anything else\n"
        "is our bug and shows its traceback. `--json -` writes nothing but JSON to standard output. `boostwright\n"
        "--install-completion` installs completion for the shell in use.\n"
    )
    parts += [_command(name, command) for name, command in commands()]
    return "\n".join(parts)


def _command(name: str, command: Any) -> str:
    text = introspection.cleandoc(command.help or "")
    said = [part for part in text.split("\n\n") if not part.startswith("Example:")]
    examples = re.findall(r"^Example: (.+)$", text, flags=re.MULTILINE)
    rows = [_option(parameter) for parameter in command.params if parameter.name != "help"]
    parts = [f"## {name}\n", "\n\n".join(said) + "\n", "```sh\n" + "\n".join(examples) + "\n```\n"]
    return "\n".join([*parts, table(("argument or option", "default", "what it is"), rows)] if rows else parts)


def _option(parameter: Any) -> tuple[str, str, str]:
    shown = parameter.metavar or parameter.name or ""
    name = f"`{shown}`"
    if parameter.param_type_name == "option":
        name = f"`{', '.join(parameter.opts)}{'' if parameter.is_flag else f' {_metavar(parameter)}'}`"
    default = parameter.default
    plain = "" if default in (None, False) or callable(default) else f"`{getattr(default, 'value', default)}`"
    told = "required" if parameter.required else plain
    return name, told, getattr(parameter, "help", None) or ""


def _metavar(option: Any) -> str:
    choices = type(option.default) if isinstance(option.default, Enum) else ()
    return option.metavar or "|".join(choice.value for choice in choices) or option.name.upper()


_CAMPAIGN_KEYS = (  # where, key, what it holds, if left out, meaning
    ("", "title", "text", "the folder's name", "what the campaign asks; stands over every report"),
    ("", "baseline", "the name of a setup", "required", "what is compared against"),
    ("", "candidate", "the name of a setup", "required", "what is compared"),
    (
        "",
        "speed_range_rpm",
        "two numbers",
        "required",
        "the range that the claim speaks about, declared before looking",
    ),
    ("", "correction", "{correction}", '`"none"`', "the rule that corrects power to reference weather"),
    ("", "units", "{units}", '`"metric"`', "what reports print"),
    ("", "engine_family", "text", "none", "what engines are alike in; the archive learns by it"),
    ("[stand]", "name", "text", "none", "the dynamometer; the archive learns by it"),
    ("[stand]", "kind", "{kind}", '`"engine"`', "where it brakes"),
    ("[stand]", "rotating_inertia", "inertia", "nothing is removed", "of what turns with the engine and is not read"),
    ("[setups.NAME]", "build", "a path in the folder", "no build", "description of the build; comparing needs none"),
    ("[columns]", '"HEADER"', '`"quantity [unit]"`', "the header says it", 'what a column is, or `"ignore"`'),
    ("[[pulls]]", "file", "a path in the folder", "required", "the log"),
    ("[[pulls]]", "setup", "the name of a setup", "required", "what was on the stand"),
    ("[[pulls]]", "started", "date and time", "required", "when it began; all with a time zone, or none"),
    ("[[pulls]]", "barometer", "pressure", "no weather", "station pressure at the stand, not reduced to sea level"),
    ("[[pulls]]", "air_temperature", "temperature", "no weather", "of the air ahead of the inlet"),
    ("[[pulls]]", "relative_humidity", "fraction", "no weather", "of the same air"),
    (
        "[[pulls]]",
        "soak_temperature",
        "temperature",
        "not allowed for",
        "of intake metal or coolant just before the pull",
    ),
    (
        "[[pulls]]",
        "installation",
        "a number",
        "counted",
        "one further at each change of setup; for every pull, or none",
    ),
    ("[[pulls]]", "session", "text or date", "the day of `started`", "pulls of one day on one stand"),
)


def campaign_page() -> str:
    """The keys of campaign.toml, what a log may carry, and the units that are read.

    Raises
    ------
    ValueError
        If the keys listed here are not those that the reader asks for.
    """
    _compare_with_reader()
    choices = {"correction": campaign.Correction, "units": campaign.System, "kind": campaign.StandKind}
    worded = {name: ", ".join(f'`"{word}"`' for word in get_args(kind)) for name, kind in choices.items()}
    rows = [
        (f"`{where}`" if where else "", f"`{key}`", holds.format(**worded), unsaid, meaning)
        for where, key, holds, unsaid, meaning in _CAMPAIGN_KEYS
    ]
    logged = [
        (f"`{name}`", "gauge, Pa" if name == columns.BOOST else WORDS[name].unit, columns._HEADERS[name])
        for name in columns.QUANTITIES
    ]
    units = [
        (dimension, "; ".join(f"{symbol} ({spellings})" for symbol, _, spellings in spelt))
        for dimension, spelt in _TABLE.items()
    ]
    return "\n".join(
        [
            "# Campaign file and logs\n",
            NOTE,
            "A campaign is a folder with `campaign.toml`, `pulls/` and, if wanted, `builds/`; the program writes\n"
            '`results/` and `report/`. A quantity is written with its unit: `"1006 hPa"`. An unknown key is a fault.\n',
            "## campaign.toml\n",
            table(("table", "key", "holds", "if left out", "meaning"), rows),
            "## Logs\n",
            f"Files: {', '.join(f'`{suffix}`' for suffix in sorted(LOG_SUFFIXES))}; MDF needs the extra `mdf`.\n"
            "Engine speed is needed, and torque or power. Everything else widens what can be asked.\n",
            "## Quantities, and the headers that mean them\n",
            "Beside its own name. Case, spaces, hyphens, points and underscores in a header carry no meaning.\n",
            table(("quantity", "in SI", "headers"), logged),
            "## Units that are read\n",
            "Spaces, `*`, `.`, `-`, `^` and brackets in a unit carry no meaning. A pressure may have `abs`, `gauge`\n"
            "or `vacuum` behind it, and where that is missing and could mean two things it is asked for.\n",
            table(("dimension", "units, with their spellings"), units),
        ]
    )


def _compare_with_reader() -> None:
    reads = ("text", "choice", "quantity", "numbers", "moment", "whole_number", "day_or_text")
    calls = [node for node in ast.walk(ast.parse(introspection.getsource(campaign))) if isinstance(node, ast.Call)]
    asked = {
        call.args[0].value
        for call in calls
        if isinstance(call.func, ast.Attribute) and call.func.attr in reads and isinstance(call.args[0], ast.Constant)
    }
    listed = {key for _, key, *_ in _CAMPAIGN_KEYS}
    known = {"baseline", "candidate", "speed_range_rpm", '"HEADER"'}  # read through a variable
    if asked - listed or listed - asked - known:
        raise ValueError(f"campaign.toml: {asked - listed} not listed, {listed - asked - known} listed and not read")


def build_page() -> str:
    """Every key of a build file with its range and its default."""
    parts = [
        "# Build file\n",
        NOTE,
        "Only the keys in bold are required, and of `[drive]` a ratio or both pulleys. A number is written with\n"
        'its unit, `"4.2 L"`, unless it has none. *If left out*: the value, its 95 % range, and how it scales\n'
        "with the build; where several stand, the first that applies. *Not known*: nothing is assumed, and no\n"
        "limit is held against it. Sources: [assumptions](assumptions.md).\n",
    ]
    tables = dict.fromkeys(key.path.rsplit(".", 1)[0] for key in KEYS)
    for name in tables:
        rows = [_key_row(key) for key in KEYS if key.path.rsplit(".", 1)[0] == name]
        parts += [f"## [{name}]\n", table(("key", "holds", "possible", "what it is", "if left out"), rows)]
    return "\n".join(parts)


_NO_NUMBER = {  # what is taken where no single number is
    "engine.bore": "from displacement, cylinders and stroke",
    "engine.volumetric_efficiency_curve": "from `volumetric_efficiency` and its curvature",
    "blower.kind": "`roots`, or `screw` if a volume ratio above 1 is given",
    "blower.rotor_diameter": "not known, and then no tip speed either",
    "drive.ratio": "from the two pulleys",
    "drive.driving_pulley": "from `ratio`",
    "drive.driven_pulley": "from `ratio`",
    "inlet.throttle_bore": "from `throttle_area`",
    "fuel.blend": f"`{ASSUMED_BLEND}`",
    "bypass.manifold_pressure_cap": "no cap",
}


def _key_row(key: Key) -> tuple[str, ...]:
    name = f"`{key.path.rsplit('.', 1)[1]}`"
    defaults = [_figures(_as_assumption(rule)) for rule in RULES if rule.key_path == key.path]
    defaults = defaults or [_figures(chamber) for chamber in _chambers() if _key_of(chamber) == key.path]
    unsaid = "required" if key.required else "; ".join(dict.fromkeys(defaults)) or _NO_NUMBER.get(key.path, "not known")
    if key.words:
        holds, possible = "a word", ", ".join(f"`{word}`" for word in key.words)
    elif key.holds in (WORD, SWITCH, CURVE):
        holds, possible = key.holds, ""
    else:
        holds, possible = key.holds.replace("_", " "), _possible(key)
    return f"**{name}**" if key.required else name, holds, possible, key.phrase, unsaid


def _possible(key: Key) -> str:
    if key.holds == COUNT:
        return f"{key.low:.0f} – {key.high:.0f}"
    unit = display_unit(key.holds, "metric")
    low, high = (_number(end, 4) for end in unit.from_si([key.low, key.high]))
    ends = f"{'above 0' if 0.0 < key.low < 1e-9 else low} – {high}"
    return f"{ends} {printed_symbol(unit)}".rstrip(" -")


def _as_assumption(rule: Rule) -> Assumption:
    default = rule.default
    holds = next(key.holds for key in KEYS if key.path == rule.key_path)
    return Assumption(
        key_path=rule.key_path,
        value=default.value,
        low=default.low,
        high=default.high,
        dimension="fraction" if holds in (COUNT, WORD) else holds,
        scaling=default.scaling,
        source=default.source,
    )


def _figures(assumption: Assumption) -> str:
    scaled = assumption.scaling.startswith("times the ") or " 1 - " in f" {assumption.scaling}"
    if scaled and assumption.dimension != "fraction":  # the figure is a factor, not a quantity
        value, low, high, symbol = assumption.value, assumption.low, assumption.high, ""
    else:
        unit = assumption_unit(assumption)
        value, low, high = unit.from_si([assumption.value, assumption.low, assumption.high])
        symbol = printed_symbol(unit).strip("-")
    figures = [_number(figure, 3) for figure in (value, low, high)]
    said = figures[0] if low == high else f"{figures[0]} ({figures[1]} – {figures[2]})"
    said_so = assumption.scaling.removeprefix("none").removeprefix("; ")
    scaling = f", {said_so}" if said_so else ""
    return f"{said} {symbol}".rstrip() + scaling


def _number(value: float, figures: int) -> str:
    """A number to so many figures, in plain digits unless it is very small."""
    said = f"{value:.{figures}g}"
    return f"{float(said):.0f}" if "e+" in said else said


def _chambers() -> list[Assumption]:
    found = [value for value in vars(chamber_defaults).values() if isinstance(value, tuple)]
    defaults = [default for group in found for default in group if isinstance(default, Default)]
    return [default_assumption(default, "blower as chambers") for default in dict.fromkeys(defaults)]


def _key_of(chamber: Assumption) -> str | None:
    word = chamber.key_path.split(": ")[1].replace(" ", "_")
    return next((key.path for key in KEYS if key.path.split(".")[1] == word), None)


def words_page() -> str:
    """Every word with its unit and meaning."""
    parts = [
        "# Words\n",
        BUILT,
        "One word a thing, in SI and absolute pressures. A public parameter must stand here.\n",
    ]
    logged = [WORDS[name] for name in LOGGED_QUANTITIES]
    others = sorted((word for word in WORDS.values() if word not in logged), key=lambda word: word.name)
    for title, words in (("What a log may carry", logged), ("All others", others)):
        rows = [(f"`{word.name}`", word.unit, word.meaning, word.symbol) for word in words]
        parts += [f"## {title}\n", table(("word", "unit", "meaning", "symbol"), rows)]
    return "\n".join(parts)


def assumptions_page() -> str:
    """Every default with its range, its scaling and its source."""
    head = ("of", "value (95 % range), scaling", "source")
    rules = [(f"`{rule.key_path}`", _figures(_as_assumption(rule)), rule.default.source) for rule in RULES]
    chambers = [(one.key_path.split(": ")[1], _figures(one), one.source) for one in _chambers()]
    return "\n".join(
        [
            "# Assumptions, with their sources\n",
            NOTE,
            "What a build is taken to be where its file says nothing. The ranges are meant as 95 % ranges; most\n"
            "are opinions of the trade and none is a measurement of ours. `match BUILD.toml --assumptions` prints\n"
            "those of one build, at its size. How plausible the result is: [defaults on twelve\n"
            "builds](../defaults.md).\n",
            table(head, rules),
            "## The blower as chambers\n",
            "Used by `--blower chamber` and by studies of ports. They hold for 2.0 L a turn and are scaled.\n",
            table(head, chambers),
        ]
    )


def python_page() -> str:
    """Public functions and classes by room, each with the first line of its docstring."""
    parts = [
        "# Python\n",
        BUILT,
        "Everything that a command does is a few lines of Python. Inside, all is SI with absolute pressures and\n"
        "turns per second. Types are shipped. Until version 1.0 names may change; the changelog says so. Here is\n"
        "every public function and class with the first line of its documentation; `help()` has parameters, units\n"
        "and sources.\n",
    ]
    for room, what in ROOMS.items():
        parts += [f"## boostwright.{room}\n", f"{what[0].upper()}{what[1:]}.\n"]
        for path in sorted((SOURCE / room).glob("*.py")):
            rows = list(_public(path))
            if rows:
                parts += [f"### {room}.{path.stem}\n", table(("name", "what it is"), rows)]
    return "\n".join(parts)


def _public(path: Path) -> Iterator[tuple[str, str]]:
    seen = set[str]()
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            first = (ast.get_docstring(node) or "").split("\n")[0]
            if first and node.name not in seen:
                seen.add(node.name)
                yield f"`{node.name}`", first


def json_page() -> str:
    """The keys of the JSON of every example of the help, as it came out."""
    parts = [
        "# JSON\n",
        "*Made from the program by `python -m docs.make_reference --json`. Do not edit; run it again.*\n",
        "What the command above each tree wrote. A number carries its unit in its key; percentages are of the\n"
        "baseline. `[]` is a list, and what stands under it is in each of its members. `null` is a number that is\n"
        "not known, or a part that was not asked for. *As* points to keys that are the same as those of an\n"
        "earlier branch. Keys are added and never renamed. What plans and pools mean by theirs: [how\n"
        "to](../how-to-plan-and-pool.md#json).\n",
    ]
    for example, found in _examples_as_json():
        parts += [f"## {example.command}\n", f"```sh\n{example.line}\n```\n"]
        parts.append("```text\n" + "\n".join(_tree(found, {}, 0, "")) + "\n```\n")
    return "\n".join(parts)


def _examples_as_json() -> Iterator[tuple[HelpExample, Any]]:
    for example in help_examples():
        if not example.writes_json:
            continue
        with tempfile.TemporaryDirectory() as name, copy_of_the_root(Path(name)):
            done = ran(example, "out.json")
            if done.exit_code:
                raise RuntimeError(f"{example.line}: {done.output}") from done.exception
            target = Path("support.json" if "support.json" in example.line else "out.json")
            yield example, json.loads(target.read_text(encoding="utf-8"))


_AS = 5  # branches of more keys than this are printed once


def _tree(value: Any, printed: dict[tuple[str, ...], str], depth: int, path: str) -> Iterator[str]:
    for key, inner in sorted_branches(value):
        name, below = f"{'    ' * depth}{key}", f"{path}.{key}".lstrip(".")
        shape = tuple(sorted(paths(inner)))
        if not shape:
            yield f"{name}: {kind(inner)}"
        elif len(shape) > _AS and shape in printed:
            yield f"{name}: as {printed[shape]}"
        else:
            printed.setdefault(shape, below)
            yield name
            yield from _tree(inner, printed, depth + 1, below)


def sorted_branches(value: Any) -> Iterator[tuple[str, Any]]:
    """The branches of a node: its keys, `[]` behind that of a list; words that are data instead of keys as one."""
    for key, inner in merged(value).items():
        flat = inner
        while isinstance(flat, list):
            key, flat = f"{key}[]", members(flat)
        yield key, flat


def merged(value: Any) -> dict[str, Any]:
    """The keys of a node; where they are words with spaces in them, they are data, and one stands for all."""
    if not isinstance(value, dict):
        return {}
    named = {key: inner for key, inner in value.items() if " " not in key}
    spoken = [inner for key, inner in value.items() if " " in key]
    return named | ({"<words>": members(spoken)} if spoken else {})


def members(several: list[Any]) -> Any:
    """One that stands for all members of a list: of objects, all keys that any has."""
    objects = [one for one in several if isinstance(one, dict)]
    if not objects:
        return next((one for one in several if one is not None), None)
    joined: dict[str, list[Any]] = {}
    for one in objects:
        for key, inner in one.items():
            joined.setdefault(key, []).append(inner)
    return {key: _joint(inners) for key, inners in joined.items()}


def _joint(inners: list[Any]) -> Any:
    lists = [inner for inner in inners if isinstance(inner, list)]
    return [one for each in lists for one in each] if lists else members(inners)


def kind(value: Any) -> str:
    """What a leaf holds, in a word."""
    names = {bool: "true or false", int: "number", float: "number", str: "text"}
    return names.get(type(value), "null, or an empty list" if value is None else "nothing here")


def paths(value: Any) -> set[str]:
    """The key paths of all leaves under a node."""
    found = set[str]()
    for key, inner in sorted_branches(value):
        below = paths(inner)
        found |= {f"{key}.{path}" for path in below} if below else {key}
    return found


def key_paths(data: bytes) -> set[str]:
    """The key paths of all leaves of a JSON file."""
    return paths(json.loads(data))


def page_keys(page: str) -> dict[str, set[str]]:
    """The key paths that the page of JSON lists, by the command line above each."""
    found: dict[str, set[str]] = {}
    for line, tree in re.findall(r"```sh\n([^\n]+)\n```\n\n```text\n(.*?)\n```", page, flags=re.DOTALL):
        found[line] = _listed(tree.split("\n"))
    return found


def _listed(lines: list[str]) -> set[str]:
    stack: list[str] = []
    leaves, copies = set[str](), list[tuple[str, str]]()
    for line in lines:
        depth = (len(line) - len(line.lstrip())) // 4
        key, _, said = line.strip().partition(": ")
        stack[depth:] = [key]
        path = ".".join(stack)
        if said.startswith("as "):
            copies.append((path, said.removeprefix("as ")))
        elif said:
            leaves.add(path)
    for path, source in copies:
        leaves |= {f"{path}{leaf.removeprefix(source)}" for leaf in leaves if leaf.startswith(f"{source}.")}
    return leaves


def main() -> None:
    """Write the pages."""
    PAGES.mkdir(exist_ok=True)
    pages = static_pages() | ({JSON_PAGE: json_page()} if "--json" in sys.argv[1:] else {})
    for path, text in pages.items():
        path.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
