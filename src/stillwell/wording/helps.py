"""What would help, in plain words."""

from collections.abc import Iterator

from stillwell.proof.helps.find import Help, Helps
from stillwell.wording.counting import listed, share
from stillwell.wording.proof import notice_cell


def help_sentences(helps: Helps) -> Iterator[str]:
    """Say each single change that meets the deadline, the one that gains most first; or that none was found."""
    if not helps.helps:
        yield f"No single change that was tried meets the deadline. Tried: {helps.tried} changed plans."
    for one in helps.helps:
        yield _sentence(one)
    if helps.untried:
        yield f"Not tried, for want of time: {listed(helps.untried)}."


def _sentence(found: Help) -> str:
    gain = f"protected {share(found.share_after)} of the year instead of {share(found.share_before)}"
    worst = f"at worst {notice_cell(found.after.worst_s)}"
    caution = f" {found.change.caution}" if found.change.caution else ""
    return f"{found.change.told}: {worst}, {gain}.{caution}"
