"""The `hidewright` command: each subcommand is a module here and is loaded only when it is called.

Exit codes: 0 done; 1 done, but not what was hoped for (no recipe within tolerance, a late plan); 2 refused: the input
must be put right first; 130 stopped by the person.
"""

import importlib
import importlib.util
import os
import sys

import click

from hidewright import __version__
from hidewright.machine import one_thread
from hidewright.refusals import Refusal

COMMANDS = {
    "adjust": "Say what to add to a cup that is a little off.",
    "characterise": "Find what each pigment absorbs and scatters from drawdowns.",
    "copy": "Write a copy of everything the shop has entered.",
    "demo": "Do the whole job on the demonstration files, then serve the app.",
    "doctor": "Look whether the shop's data is sound.",
    "eye": "Say what to do with a cup by what an eye saw of it.",
    "dry": "Forecast how a wet mix dries, or how a dry one looked wet.",
    "learn": "Learn the strength of each lot from cups that were read.",
    "link": "Print a new one-time link that lets one device in.",
    "manage": "Run one of the database's own commands.",
    "match": "Find what to put in the cup for a target colour.",
    "owner": "Make somebody an owner of the shop, with a password.",
    "paper": "Make a paper: mixing card, day sheet.",
    "photo": "Read a colour off a photo with a grey card in it.",
    "plan": "Plan what goes on which table on which day.",
    "readings": "Say what is in an instrument's files; average and compare.",
    "restore": "Bring a copy of a shop back.",
    "serve": "Serve the app to this computer or to the shop's network.",
    "shift": "Shift a target: lighter, more neutral, toward a swatch.",
    "simulate": "Let a simulated shop match, pour and learn.",
    "takeoff": "Work out litres with odds from a list of pieces.",
}


APP = (
    "cryptography",
    "dj_database_url",
    "django",
    "python_calamine",
    "segno",
    "typst",
    "vl_convert",
    "waitress",
)
"""What the extra `app` brings and the engine alone does not need: its absence is refused in words."""


class LazyCommands(click.Group):
    """A group that imports a subcommand's module only when it is needed."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names of all subcommands that are there."""
        return [name for name in sorted(COMMANDS) if importlib.util.find_spec(f"hidewright.cli.{name}")]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the subcommand's module and return its `command`."""
        if cmd_name not in self.list_commands(ctx):
            return None
        found = importlib.import_module(f"hidewright.cli.{cmd_name}").command
        assert isinstance(found, click.Command)
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the subcommands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, COMMANDS[name]) for name in self.list_commands(ctx)])


@click.group(cls=LazyCommands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="hidewright")
def group() -> None:
    """Colour, quantity and days for people who refinish the leather of whole interiors."""


def main() -> None:
    """Run the command; a refusal goes to stderr with what to do, and ends with code 2."""
    one_thread()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "hidewright.workshop.settings")
    try:
        # Without click's own ending, an exit code comes back as the answer.
        ended = group.main(prog_name="hidewright", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped.", err=True)
        sys.exit(130)
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] not in APP:
            raise
        click.echo(
            f"Refused: this needs the app, and {error.name} is not installed. Install hidewright[app].",
            err=True,
        )
        sys.exit(2)
    except Refusal as refusal:
        click.echo(f"Refused: {refusal}", err=True)
        sys.exit(2)
    except OSError as error:
        click.echo(f"Refused: {error.strerror or error}: {error.filename or ''}".rstrip(": "), err=True)
        sys.exit(2)
    sys.exit(ended if isinstance(ended, int) else 0)
