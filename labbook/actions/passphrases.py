"""Passphrases that can be read from a slip and typed with gloves on: words and a number.

Three of 257 words and three figures, drawn evenly: about 33 bits.
"""

from __future__ import annotations

import secrets

LIST = """
acorn alder amber anchor apple apron arrow aspen autumn badge bagel baker balloon bamboo banjo
barley barrel basil basket beacon beaver beech bench berry birch biscuit blanket blossom
bonfire border bottle bramble branch bread breeze bridge bronze bubble bucket button cabin
cable cactus camel candle canvas carbon cargo carrot castle cedar cellar cherry chess chestnut
circle citrus clay clover cobalt coffee comet copper coral cotton cradle crater crayon cricket
crystal cushion daisy dancer desert diamond dinner dolphin donkey dragon drawer drum eagle
early eleven ember engine fabric falcon farmer feather fennel ferry fiddle field finch flame
flannel flask flour flute forest fossil fountain fox frost garden garlic garnet ginger glacier
glove goblet golden grain granite grape gravel hammer harbour harvest hazel heather hedge
helmet heron honey hopper horizon hornet icicle indigo island ivory jacket jasmine jigsaw
jungle juniper kettle kitten ladder lantern larch lemon lettuce lilac linen lizard lobster
locket lotus magnet mango maple marble market meadow melon mercury meteor mirror mitten
monsoon mosaic muffin mustard napkin needle nettle nickel nutmeg oasis oatmeal ocean olive
onion orange orchard otter oyster paddle panda paper parcel parsley peach pebble pencil pepper
piano pickle pigeon pillow pine planet plaster plum pocket pollen pony poplar potato prairie
prism pumpkin puzzle quartz quilt rabbit radish raven reed ribbon river robin rocket rope
rosemary saddle saffron sailor salmon sandal scarf shadow shell silver sparrow spoon spruce
squirrel stable summer sunset swallow tablet teapot thimble thistle thunder timber tomato
trumpet tulip tunnel turnip turtle valley velvet violet violin walnut whistle willow window
winter zebra
"""
WORDS = tuple(LIST.split())
HOW_MANY_WORDS = 3


def make_passphrase() -> str:
    words = [secrets.choice(WORDS) for _ in range(HOW_MANY_WORDS)]
    return "-".join([*words, str(100 + secrets.randbelow(900))])
