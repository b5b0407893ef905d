"""Who may say and hear what: a bench its own topics, the server all of them. Pure.

Source: the table of topics in ``drainscale.messages.topics``.
"""

from drainscale.errors import MessageError
from drainscale.messages.topics import LEAVES, ROOT, BenchId, split_topic

SERVER = "server"  # no bench's name: those have a slash


def may_publish(user: str, topic: str) -> bool:
    """Tell whether a user may publish on a topic."""
    if user == SERVER:
        return topic.startswith(f"{ROOT}/")
    return _is_own(user, topic, is_upward=True)


def may_hear(user: str, topic_filter: str) -> bool:
    """Tell whether a user may subscribe to a filter; a bench only to its own topics, one by one."""
    if user == SERVER:
        return topic_filter.startswith(f"{ROOT}/")
    return _is_own(user, topic_filter, is_upward=False)


def _is_own(user: str, topic: str, *, is_upward: bool) -> bool:
    try:
        bench, leaf = split_topic(topic)
        site, _, name = user.partition("/")
        return bench == BenchId(site, name) and LEAVES[leaf].is_upward is is_upward
    except MessageError:
        return False
