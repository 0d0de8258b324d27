"""Starting setups and next changes for off-road race motorcycles."""
