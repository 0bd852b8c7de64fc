"""bot acts: everything that touches the world, from the store to the channels."""
