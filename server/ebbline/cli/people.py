"""Who may sign in at the desk: ``ebbline user``."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import click
from sqlalchemy.orm import Session

from ebbline.cli.options import data_option, database_option
from ebbline.cli.places import Places


@click.group("user")
def user() -> None:
    """Who may sign in at the desk. With the first account a server is no longer open."""


@user.command("add")
@click.argument("name")
@click.option("--password-stdin", is_flag=True, help="Read the password from standard input.")
@database_option
@data_option
def add(name: str, password_stdin: bool, database: str | None, data: Path) -> None:
    """Make an account; asks for its password."""
    from ebbline import sessions

    if password_stdin:
        password = sys.stdin.readline().rstrip("\r\n")
    else:
        password = click.prompt("Password", hide_input=True, confirmation_prompt=True)
    with Places.of(database, data).open_database() as engine, Session(engine) as db_session:
        account = sessions.add_account(db_session, name, password, time.time_ns() // 1_000_000)
    click.echo(f"{account.name} may sign in; everybody else has to, too, from now on")


@user.command("list")
@database_option
@data_option
def list_(database: str | None, data: Path) -> None:
    """Say who may sign in."""
    from ebbline import sessions

    with Places.of(database, data).open_database() as engine, Session(engine) as db_session:
        accounts = sessions.accounts(db_session)
    for account in accounts:
        click.echo(f"{account.name}  since {account.created_at[:10]}")
    if not accounts:
        click.echo("nobody: on this machine alone, the desk is open without signing in", err=True)


@user.command("remove")
@click.argument("name")
@database_option
@data_option
def remove(name: str, database: str | None, data: Path) -> None:
    """Remove an account; whoever is signed in with it no longer is."""
    from ebbline import sessions

    with Places.of(database, data).open_database() as engine, Session(engine) as db_session:
        sessions.remove_account(db_session, name)
        left = len(sessions.accounts(db_session))
    click.echo(f"{name} is removed" + ("" if left else "; nobody may sign in now"))
