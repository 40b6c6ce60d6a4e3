"""``ebbline user``: who may sign in at the desk."""

from __future__ import annotations

import sys
from pathlib import Path

import click
from sqlalchemy.orm import Session

from ebbline.cli.options import data_option, database_option
from ebbline.cli.places import Places
from ebbline.sessions.access.accounts import add_account, all_accounts, remove_account
from ebbline.wall_clock import now_ms


@click.group("user")
def command() -> None:
    """Who may sign in at the desk. With the first account a server is no longer open."""


@command.command("add")
@click.argument("name")
@click.option("--password-stdin", is_flag=True, help="Read the password from standard input.")
@database_option
@data_option
def add(name: str, password_stdin: bool, database: str | None, data: Path) -> None:
    """Make an account; asks for its password."""
    if password_stdin:
        password = sys.stdin.readline().rstrip("\r\n")
    else:
        password = click.prompt("Password", hide_input=True, confirmation_prompt=True)
    with Places.of(database, data).open_database() as engine, Session(engine) as db_session:
        account = add_account(db_session, name, password, now_ms())
    click.echo(f"{account.name} may sign in; everybody else has to, too, from now on")


@command.command("list")
@database_option
@data_option
def list_(database: str | None, data: Path) -> None:
    """Say who may sign in."""
    with Places.of(database, data).open_database() as engine, Session(engine) as db_session:
        accounts = all_accounts(db_session)
    for account in accounts:
        click.echo(f"{account.name}  since {account.created_at[:10]}")
    if not accounts:
        click.echo("nobody: on this machine alone, the desk is open without signing in", err=True)


@command.command("remove")
@click.argument("name")
@database_option
@data_option
def remove(name: str, database: str | None, data: Path) -> None:
    """Remove an account; whoever is signed in with it no longer is."""
    with Places.of(database, data).open_database() as engine, Session(engine) as db_session:
        remove_account(db_session, name)
        left = len(all_accounts(db_session))
    click.echo(f"{name} is removed" + ("" if left else "; nobody may sign in now"))
