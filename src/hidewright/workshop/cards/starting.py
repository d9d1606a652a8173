"""The cards and checklists a shop may begin with. Common practice in our own words, no source; the shop writes its own over them."""

from hidewright.planning.problem.kinds import Kind

CARDS: tuple[dict[str, str], ...] = (
    {
        "title": "Seats: belts and placards",
        "step": Kind.MASK,
        "words": "seat",
        "cover": "Belts and buckles, posts and rails, placards, plugs and anything that moves. Wrap belts whole: overspray in the webbing never comes out.",
        "tape": "Fine-line tape at the edge, paper and wider tape behind it.",
        "notes": "Photograph every placard before it is covered. A belt or placard that was coated is for the authorised person.",
    },
    {
        "title": "Masking off hardware",
        "step": Kind.MASK,
        "cover": "Screws, hinges, piping that stays, and the foam side.",
        "tape": "Low-tack tape on finished trim; pull it off at a flat angle while the last coat is still soft.",
    },
    {
        "title": "Stripping an old coat",
        "step": Kind.STRIP,
        "cloth": "Wet the cloth with stripper, not the leather; turn it as soon as it is coloured.",
        "grit": "No paper on grain leather: a soft brush in the grain, then the cloth.",
        "notes": "Gloves and moving air; the product’s data sheet rules. Try a hidden spot first.",
    },
    {
        "title": "Cleaning before colour",
        "step": Kind.CLEAN,
        "cloth": "Wrung out until it no longer drips; a second cloth with clean water, a third one dry.",
        "notes": "Clean until a white cloth stays white. Let it dry before anything else.",
    },
    {
        "title": "Sanding between coats",
        "step": Kind.SAND,
        "grit": "Begin at 600 on a rough filler, end at 1000 or finer on leather; hardly any pressure.",
        "cloth": "Damp, never wet: dust only.",
        "notes": "Nobody sands beside a wet coat.",
    },
    {
        "title": "Wiping down before the gun",
        "step": Kind.WIPE_DOWN,
        "cloth": "Barely damp with the cleaner named on the coat’s data sheet; one way, not in rings.",
        "notes": "Solvent: air moving, no flame, no spark. Gloves.",
    },
    {
        "title": "Tacking off",
        "step": Kind.TACK,
        "cloth": "A tack cloth opened out, drawn over without pressing.",
    },
    {
        "title": "Wiping in the first colour",
        "step": Kind.WIPE_IN,
        "cloth": "A soft sponge, damp with colour, worked into seams and creases; no runs at the stitches.",
    },
    {
        "title": "Taking the masking off",
        "step": Kind.UNMASK,
        "notes": "Cut the film along the edge with a fresh blade where a coat bridges it. Look at placards and belts, and photograph them.",
    },
)

CHECKLISTS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    (
        "Every week in the shop",
        "weekly",
        (
            "Filters of the fan and of the gun’s air looked at",
            "Water drained from the compressor",
            "Solvent rags in a closed metal bin, and the bin emptied",
            "Eye wash and extinguisher in their places",
            "Balance checked with a known weight",
        ),
    ),
    (
        "Before spraying",
        "spraying",
        (
            "Fan on, doors closed, flames and sparks out",
            "Breathing protection fits, cartridges not over their day",
            "Gun clean, test card sprayed",
            "Colour stirred and strained, pot life written down",
            "Belts and placards covered",
            "Nobody sands",
        ),
    ),
    (
        "Bare metal and hard tops",
        "always",
        (
            "No piece with bare metal on a hard top: a blanket or foam under it",
            "Coated pieces lie on their uncoated side",
        ),
    ),
)
