"""Effect text to kernel: blind to layouts and to music.

``parse → check → lower (fold, share, slopes, boundaries) → hoist → emit → load``, one short module each.
"""

from eavesong.language.effect import Effect, Parameter, effect_names, effect_schema, load_effect, parse_effect

__all__ = ["Effect", "Parameter", "effect_names", "effect_schema", "load_effect", "parse_effect"]
