/* SPDX-License-Identifier: GPL-3.0-or-later
 * Exponential, logarithm and the powers of growth in single precision from plain arithmetic: the same bits on every machine,
 * and simple enough for the compiler to do several at once. Relative error under 3e-7 (tests/stand holds them to it). */
#ifndef SPINNEY_STAND_QUICK_H
#define SPINNEY_STAND_QUICK_H
#include <math.h>
#include <stdint.h>

/// exp(x) for x in −80 … 80; beyond, the value at the end.
static inline float quick_exp(float x)
{
    union {
        int32_t i;
        float f;
    } scale;
    x = x < -80.0f ? -80.0f : x > 80.0f ? 80.0f : x;
    float t = x * 1.44269504f;
    int32_t n = (int32_t)(t + (t < 0 ? -0.5f : 0.5f));
    float f = (x - (float)n * 0.693359375f) + (float)n * 2.12194440e-4f;
    float p = 1.9875691500e-4f;
    p = p * f + 1.3981999507e-3f;
    p = p * f + 8.3334519073e-3f;
    p = p * f + 4.1665795894e-2f;
    p = p * f + 1.6666665459e-1f;
    p = p * f + 5.0000001201e-1f;
    p = p * f * f + f + 1.0f;
    scale.i = (n + 127) << 23;
    return p * scale.f;
}

/// exp(x) for x ≤ 0 without a branch, for loops that go several at once; below −87 it stays at 1e-38.
static inline float quick_exp_down(float x)
{
    union {
        int32_t i;
        float f;
    } scale;
    int32_t n = (int32_t)(x * 1.44269504f - 0.5f);
    float f = (x - (float)n * 0.693359375f) + (float)n * 2.12194440e-4f;
    float p = 1.9875691500e-4f;
    p = p * f + 1.3981999507e-3f;
    p = p * f + 8.3334519073e-3f;
    p = p * f + 4.1665795894e-2f;
    p = p * f + 1.6666665459e-1f;
    p = p * f + 5.0000001201e-1f;
    p = p * f * f + f + 1.0f;
    n = n < -126 ? -126 : n;
    scale.i = (n + 127) << 23;
    return p * scale.f;
}

/// ln(x) for x from 1e-30 to 1e30.
static inline float quick_log(float x)
{
    union {
        float f;
        int32_t i;
    } bits = {x};
    int32_t n = ((bits.i >> 23) & 255) - 126;
    bits.i = (bits.i & 0x007fffff) | 0x3f000000;
    float m = bits.f;
    if (m < 0.707106781f) {
        n -= 1;
        m = m + m - 1.0f;
    } else {
        m = m - 1.0f;
    }
    float z = m * m, y = 7.0376836292e-2f;
    y = y * m - 1.1514610310e-1f;
    y = y * m + 1.1676998740e-1f;
    y = y * m - 1.2420140846e-1f;
    y = y * m + 1.4249322787e-1f;
    y = y * m - 1.6668057665e-1f;
    y = y * m + 2.0000714765e-1f;
    y = y * m - 2.4999993993e-1f;
    y = y * m + 3.3333331174e-1f;
    y = y * m * z;
    y += (float)n * -2.12194440e-4f;
    y -= 0.5f * z;
    return m + y + (float)n * 0.693359375f;
}

/// x^(3/4), x ≥ 0.
static inline float quick_three_quarters(float x)
{
    float root = sqrtf(x);
    return root * sqrtf(root);
}
/// x^(2/3), x > 0.
static inline float quick_two_thirds(float x)
{
    return quick_exp(quick_log(x) * 0.666666667f);
}
#endif
