/* The six-cue stack fused by hand: float32, structure of arrays, per-frame constants outside the pixel loop. */
#include <math.h>
#include <stdint.h>

static inline float clamp01(float v) { return fminf(fmaxf(v, 0.0f), 1.0f); }
static inline float fract(float v) { return v - floorf(v); }
static inline float smooth(float v, float low, float high)
{
    float s = clamp01((v - low) / (high - low));
    return s * s * (3.0f - 2.0f * s);
}
static inline float hash(uint32_t i, uint32_t step) /* the finaliser of MurmurHash3 (public domain) */
{
    uint32_t h = i * 0x9E3779B1u ^ step * 0x85EBCA77u;
    h = (h ^ h >> 16) * 0x85EBCA6Bu;
    h = (h ^ h >> 13) * 0xC2B2AE35u;
    return (float)(int32_t)((h ^ h >> 16) >> 8) * (1.0f / 16777216.0f);
}

typedef struct { float front, phase, pulse, slide, chase, blue; uint32_t step; } moment;

static moment moment_of(int64_t frame, double fps)
{
    double t = frame / fps, beat = 2 * t, bar = t / 2;
    moment m = {
        .front = -0.15 + 1.3 * (beat / 4 - floor(beat / 4)), .phase = M_PI * fmod(beat, 2),
        .pulse = exp(-4 * (beat - floor(beat))), .slide = fmod(0.2 * bar, 1), .chase = fmod(0.5 * beat, 1),
        .blue = 0.5 * fabs(sin(t)), .step = (uint32_t)floor(8 * frame / fps),
    };
    return m;
}

typedef struct { float r, g, b; } colour;

static inline colour over(colour under, float level, float r, float g, float b)
{
    colour c = { under.r + level * (r - under.r), under.g + level * (g - under.g), under.b + level * (b - under.b) };
    return c;
}

static inline colour paint(moment m, float p, float r, float y, float u8, uint32_t i, int sparkle)
{
    colour c = { 0, 0, 0 };
    c = over(c, 1.0f - smooth(fabsf(p - m.front), 0.075f, 0.15f), 0.9f, 0.3f + 0.5f * p, 0.1f);
    c = over(c, 0.5f + 0.5f * sinf(20.0f * r - m.phase), 0.1f, 0.5f, 0.8f + 0.2f * r);
    c = over(c, m.pulse, 1.0f, 0.9f, 0.7f);
    if (sparkle)
        c = over(c, fmaxf(hash(i, m.step) - 0.95f, 0.0f) * 20.0f, 1.0f, 1.0f, 1.0f);
    float q = fract(y + m.slide);
    c = over(c, 0.3f, q, 0.2f, 1.0f - q);
    float a = fract(u8 - m.chase);
    return over(c, smooth(a, 0.6f, 1.0f), a, 1.0f - a, m.blue);
}

#ifndef TILE
/* One loop from places to bytes. */
void render(const float *p, const float *r, const float *y, const float *u8, int64_t pixels, int64_t first,
            int64_t frames, double fps, int sparkle, const uint8_t *table, uint8_t *out)
{
#pragma omp parallel for schedule(static)
    for (int64_t f = 0; f < frames; f++) {
        moment m = moment_of(first + f, fps);
        uint8_t *row = out + f * pixels * 3;
        for (int64_t i = 0; i < pixels; i++) {
            colour c = paint(m, p[i], r[i], y[i], u8[i], (uint32_t)i, sparkle);
            row[3 * i + 0] = table[(int)(clamp01(c.r) * 4095.0f + 0.5f)];
            row[3 * i + 1] = table[(int)(clamp01(c.g) * 4095.0f + 0.5f)];
            row[3 * i + 2] = table[(int)(clamp01(c.b) * 4095.0f + 0.5f)];
        }
    }
}
#else
/* The same in two passes over tiles that stay in L1, so that gcc vectorises the first. */
void render(const float *p, const float *r, const float *y, const float *u8, int64_t pixels, int64_t first,
            int64_t frames, double fps, int sparkle, const uint8_t *table, uint8_t *out)
{
#pragma omp parallel for schedule(static)
    for (int64_t f = 0; f < frames; f++) {
        moment m = moment_of(first + f, fps);
        for (int64_t start = 0; start < pixels; start += TILE) {
            int count = pixels - start < TILE ? pixels - start : TILE;
            const float *tp = p + start, *tr = r + start, *ty = y + start, *tu = u8 + start;
            int32_t red[TILE], green[TILE], blue[TILE];
#pragma omp simd
            for (int i = 0; i < count; i++) {
                colour c = paint(m, tp[i], tr[i], ty[i], tu[i], (uint32_t)(start + i), sparkle);
                red[i] = (int32_t)(clamp01(c.r) * 4095.0f + 0.5f);
                green[i] = (int32_t)(clamp01(c.g) * 4095.0f + 0.5f);
                blue[i] = (int32_t)(clamp01(c.b) * 4095.0f + 0.5f);
            }
            uint8_t *row = out + (f * pixels + start) * 3;
            for (int i = 0; i < count; i++) {
                row[3 * i + 0] = table[red[i]];
                row[3 * i + 1] = table[green[i]];
                row[3 * i + 2] = table[blue[i]];
            }
        }
    }
}
#endif
