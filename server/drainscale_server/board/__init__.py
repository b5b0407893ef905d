"""The bay board: pages that show what to do now, from what the server's feed says.

routes.py    the pages, their style and script, the texts
files.py     what may be served, read once
texts.py     the catalogue of texts, and the pseudo-locale that finds a text outside of it
pages/       plain HTML, filled by the script
static/      style and script, served as they are: no build step, nothing from elsewhere
"""
