from .effect import Effect, Parameter, effect_advice, effect_names, effect_schema, load_effect, parse_effect

__all__ = [
    "Effect",
    "Parameter",
    "effect_advice",
    "effect_names",
    "effect_schema",
    "load_effect",
    "parse_effect",
]
