# SPDX-License-Identifier: Apache-2.0
"""The kit's mechanics from ``hardware/cad/params.toml``.

``params`` reads it, ``plan`` lays out platforms and plates (outline and holes, the one source for
cutting files, solids and drawings), ``solids`` and its siblings make printed parts, ``bending`` and
``plate_elements`` say how plates bend, ``stops`` whether the overload stops do their work,
``sheet`` and ``drawings`` draw, ``view`` and ``figures`` make the guides' pictures, ``steps`` hands
all of it to the generator.
"""
