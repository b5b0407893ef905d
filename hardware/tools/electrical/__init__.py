# SPDX-License-Identifier: Apache-2.0
"""The electrical half of the dossier: netlist, rules, simulated stages, drawings, list of parts.

- ``circuit``, ``netlist``: ``nets.toml`` joined with the kit's ``pins.toml``.
- ``rules``, ``domains``: what a circuit must not do.
- ``stages``: the parts that hang on one signal.
- ``decks``, ``simulation``: those parts as an ngspice deck, and what it measured.
- ``harness``, ``schematics``, ``tables``, ``bill``: what is drawn and listed.
- ``steps``: the above as files for ``generate.py``.
"""
