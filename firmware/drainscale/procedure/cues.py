"""Which cue is due: the first rule that holds, unless a gate holds its cue back."""

from drainscale.procedure.cue_facts import Cue, Facts
from drainscale.procedure.cue_rules import HELD_AS, RULES


def decide(facts: Facts) -> Cue:
    """Choose the cue for the facts as they are.

    Pure and without memory: the same facts give the same cue. That a cue does not chatter has to
    be seen to where the facts are made.

    Args:
        facts: What is known now.

    Returns:
        The cue with its reason: the key of the rule, or the id of the gate that holds it back.

    Example:
        >>> from drainscale.procedure.steps import Step
        >>> decide(Facts(step=Step.WARM, is_open_due=True))
        Cue(name=<CueName.OPEN: 'open'>, reason='in-window')
    """
    rule = next(rule for rule in RULES if rule.when(facts))
    if rule.cue in HELD_AS and rule.cue in facts.held:
        return Cue(HELD_AS[rule.cue], facts.held[rule.cue])
    return Cue(rule.cue, rule.reason)
