"""The identifiers of operators and panels, in one place, and the names of what we write into a .blend."""

from __future__ import annotations

# Operators
CHOOSE = "pastepot.choose_folder"
BUILD = "pastepot.build_cast"
PICK = "pastepot.pick_parts"
HANDMADE = "pastepot.make_handmade"
SMOOTH = "pastepot.use_smooth"
USE_HANDMADE = "pastepot.use_handmade"
SHOW_PATH = "pastepot.show_path"
RETIME = "pastepot.change_rate"
LAY_MOUTHS = "pastepot.lay_mouths"
CHANGE_MOUTH = "pastepot.change_mouth"
RENDER = "pastepot.render_pictures"
STOP = "pastepot.stop"
DELIVER = "pastepot.make_film"

# Custom properties: plain values on plain datablocks, so that a file works without the add-on
FILM = "pastepot_film"  # scene: the film folder, relative to the .blend
PART = "pastepot_part"  # object, mesh, material, image: the part it shows
CHARACTER = "pastepot_character"  # controller: the character it moves
PLACE = "pastepot_place"  # collection: what it is for, whatever it is called
BUILT = "pastepot_built"  # any: the values we last set, as JSON
SMOOTH_ACTION = "pastepot_smooth"  # animated datablock: the action the animator keyed
SMOOTH_SLOT = "pastepot_smooth_slot"  # animated datablock: the identifier of the slot in it
REST = "pastepot_rest"  # animated datablock: values of channels that only the handmade action animates
MOUTHS = "pastepot_mouths"  # scene: mouths changed by hand, as JSON: set, frame, mouth
SPOKEN = "pastepot_spoken"  # scene: the words that were laid, as JSON: start and end in seconds of the film, text
TIMING = "pastepot_timing"  # scene: 'handmade' or 'smooth', whichever was last put in use
HANDMADE_ACTION = "pastepot_handmade"  # animated datablock: the action made from it
FRAME_ACTION = "pastepot_frame"  # scene: the action with which the whole frame moves and flickers
UNITS_PER_MM = "pastepot_units_per_mm"  # that action: Blender units for a millimetre of paper
