"""The corrections of the energy balance, in words."""

CORRECTIONS = {
    "bucket_water": "bucket water",
    "buoyancy": "weighing in air",
    "conditions": "certificate conditions",
    "fuse": "fuse wire",
    "thread": "cotton thread",
    "acid": "nitric acid",
    "aids": "combustion aids",
    "contents": "contents of the vessel",
    "standard_state": "reduction to the standard state",
}
