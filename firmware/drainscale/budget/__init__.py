"""The error budget of a drained volume before anything is drained.

``draining`` asks the core what it would report, ``terms`` (``terms.toml``) knows what a platform
of this kit does beyond it, ``kit`` joins the two, ``halving`` says what to mend first, ``page``
writes it for people, ``kits`` (``kits.toml``) holds five kits to compare before one buys.
"""
