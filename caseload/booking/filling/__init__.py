"""How the diary is filled: what is free, in pools; the program; its stages; and how its answer is laid out."""
