"""The shop's server: keeps records and shows what the benches do."""
