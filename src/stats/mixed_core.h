/* SPDX-License-Identifier: GPL-3.0-or-later
 * The random part of a mixed model: Λ'Z'WZΛ + I in blocks, its sparse factor, and solving with it. Private to stats/.
 * Bates, Mächler, Bolker & Walker 2015, J Stat Softw 67(1). */
#ifndef SPINNEY_STATS_MIXED_CORE_H
#define SPINNEY_STATS_MIXED_CORE_H
#include "stats/mixed.h"

struct core_inside;
struct core {
    size_t n, q, terms, n_theta;
    const struct random_term *term;
    double **z;        ///< per term n × columns, scaled to root mean square 1
    double **scale;    ///< per term: what its columns were divided by
    size_t *offset;    ///< per term: first random effect
    size_t *theta_at;  ///< per term: first of its theta
    double *lambda;    ///< lower triangles T of all terms, columns × columns each, row-major
    size_t *lambda_at; ///< per term: where its T begins
    double *u;         ///< q: spherical effects
    double ln_det;     ///< log determinant of the last factor
    struct core_inside *inside;
};
/// Checks the terms, finds the pattern. Free with core_free also after failure.
enum outcome core_make(struct core *core, size_t n, const struct random_term *terms, size_t n_terms, struct arena *arena,
                       struct failure *why);
void core_free(struct core *core);
void core_weigh(struct core *core, const double *weight); ///< Z'WZ; NULL: all 1
void core_theta(struct core *core, const double *theta);  ///< set Λ
bool core_factor(struct core *core);                      ///< factor; false if not positive definite
/// out (q × m, column-major) = Λ'Z'x for x (n × m, row-major).
void core_cross(const struct core *core, const double *x, size_t m, double *out);
void core_solve_half(struct core *core, double *b, size_t m);             ///< L⁻¹P b in place, q × m column-major
void core_solve(struct core *core, double *b, size_t m);                  ///< A⁻¹ b in place
void core_predict(const struct core *core, const double *u, double *out); ///< out (n) = ZΛu
/// Per term covariance T T' · variance in the units of the caller's columns, and effects Λu; arena owns.
void core_report(struct core *core, const double *u, double variance, struct arena *arena, struct mixed_fit *fit);
void core_theta_start(const struct core *core, double *theta);  ///< ones on diagonals
void core_theta_settle(const struct core *core, double *theta); ///< signs of columns of Λ so that diagonals are from 0 up
void core_theta_report(const struct core *core, double *theta); ///< from the inner scale of z to the caller's
bool core_singular(const struct core *core);                    ///< some direction without variance
#endif
