"""The floor: numba kernels and their numpy references, which know arrays and floats only.

`exact` holds the float64 reference of every function of the effect language, in numpy; `fast` the float32
counterpart that the inner loop inlines; `lanes` the few machine operations they are built from; `blend` the blend
formulas, `blend_fast` the same as lanes; `drive` and `sample` the loop itself. Only `exact` and `blend` do without
numba.
"""
