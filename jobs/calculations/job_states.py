"""The life of a job: which state each action leads to, and from where it may be taken."""

# Actions by the states they start from, and the state they lead to; "" leads back to where a hold came from.
_MOVES: dict[str, tuple[tuple[str, ...], str]] = {
    "ready": (("planned",), "ready"),
    "fall-back": (("ready",), "planned"),
    "start": (("planned", "ready"), "in-progress"),
    "finish": (("in-progress",), "awaiting-sign-off"),
    "sign-off": (("awaiting-sign-off",), "closed"),
    "hold": (("planned", "ready", "in-progress", "awaiting-sign-off"), "on-hold"),
    "resume": (("on-hold",), ""),
    "cancel": (("planned", "ready", "in-progress", "awaiting-sign-off", "on-hold"), "cancelled"),
}
STATES = ("planned", "ready", "in-progress", "awaiting-sign-off", "closed", "on-hold", "cancelled")
ACTIONS = tuple(_MOVES)
# What happens by itself as facts change is not something a person is told to do.
_BY_ITSELF = frozenset({"ready", "fall-back"})


class StateRefused(ValueError):
    """The action cannot be taken from this state; the message says what can."""


def check_move(state: str, action: str) -> str:
    """The state that ``action`` leads to from ``state``; empty for *resume*, which leads to where the hold came from.

    Raises `StateRefused`, and `KeyError` for an action that is none.
    """
    starts, target = _MOVES[action]
    if state in starts:
        return target
    possible = possible_from(state)
    words = f"Possible from here: {', '.join(possible)}." if possible else "Nothing leads on from here."
    raise StateRefused(
        f"The job is {state.replace('-', ' ')}; to {action.replace('-', ' ')} it must be "
        f"{' or '.join(starts).replace('-', ' ')}. {words}"
    )


def possible_from(state: str) -> tuple[str, ...]:
    """What a person can do with a job in this state."""
    return tuple(action for action, (starts, _) in _MOVES.items() if state in starts and action not in _BY_ITSELF)
