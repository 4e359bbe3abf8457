"""Who or what made or changed a record, after the W3C PROV words entity, activity, agent."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Agent:
    """A person or a program that did something."""

    name: str
    is_person: bool = False


@dataclass(frozen=True, slots=True)
class Activity:
    """One act: a scan, a correction, a migration.

    Parameters
    ----------
    kind : str
        ``"scan"``, ``"correction"``, ``"migration"``.
    agent : Agent
        Who or what acted.
    version : str
        Version of the program that acted.
    at_utc : str
        ISO 8601 time, UTC.
    settings : dict
        Settings that the result depends on.
    """

    kind: str
    agent: Agent
    version: str
    at_utc: str
    settings: dict[str, str] = field(default_factory=dict)
