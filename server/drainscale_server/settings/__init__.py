"""What the shop's server is told: its file and its flags, read once and checked.

server_file.py   the TOML file: every key with its bound, and the frozen settings made of it
shop_time.py     instants in the shop's own time
safety.py        what is refused: off this machine without certificate, key and password
"""
