"""Everything that writes. An act is a function; pages, commands, imports and background work call the same one."""
