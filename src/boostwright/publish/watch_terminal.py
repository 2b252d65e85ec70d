"""Where a session stands, in a few lines that can be read from across the room."""

from rich.console import Console

from boostwright.publish.terminal import say
from boostwright.studies.watch import SessionNews
from boostwright.studies.words import count


def print_news(news: SessionNews, console: Console) -> None:
    """Print the faults first, with a bell while the engine is still warm, then the answer so far."""
    for file, sentence in news.faults:
        say(console, f"FAULT {file}: {sentence}", "bold dark_orange3")
    if news.faults and console.is_terminal:
        console.bell()
    if news.result is None:
        say(console, f"Waiting for the first pull of {' and of '.join(news.waiting_for)}.")
        return
    used = count(sum(pull.used for pull in news.result.pulls), "pull")
    say(console, f"{news.result.headline} ({used} used)", "bold")
    say(console, news.result.sentence)
