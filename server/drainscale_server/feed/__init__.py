"""What a board sees of a bench, kept up to date.

board_state.py   BoardState and its sections: the shape that goes out
compose.py       from what is stored and what was last heard, at a given time (pure)
procedure.py     the part about steps, gates and cautions (pure)
stored_part.py   what the store knows of a bench's present job
heard.py         what was last heard of a bench, and its trend (pure)
hub.py           all benches and their viewers; turns changes into messages
viewer.py        one tab: its bounded queue and its stream
"""
