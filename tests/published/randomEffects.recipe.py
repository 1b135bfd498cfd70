# Posterior of the hierarchical normal model by plain quadrature, as an oracle for tests/published/randomEffects.test.ts.
# Data: Rubin, J. Educ. Stat. 6 (1981) 377-400 (eight schools), as printed in Gelman 2006. python3, standard library only.
import math
Y = [28, 8, -3, 7, -1, 1, 18, 12]
S = [15, 10, 16, 11, 9, 11, 10, 18]
def run(scale, n=4000):
    rows = []
    for k in range(n):
        u = (k + 0.5) / n
        tau = scale * math.tan(math.pi / 2 * u)          # equal prior probability under half-Cauchy(scale)
        w = [1 / (s * s + tau * tau) for s in S]
        v = 1 / sum(w)
        m = v * sum(a * b for a, b in zip(w, Y))
        le = 0.5 * math.log(v) + sum(0.5 * math.log(a) for a in w) - 0.5 * sum(a * (y - m) ** 2 for a, y in zip(w, Y))
        rows.append((tau, m, math.sqrt(v), le))
    top = max(r[3] for r in rows)
    p = [math.exp(r[3] - top) for r in rows]
    t = sum(p)
    p = [x / t for x in p]
    def quantile(f, q, lo, hi):
        for _ in range(80):
            mid = (lo + hi) / 2
            if f(mid) < q: lo = mid
            else: hi = mid
        return lo
    cdf = lambda x: sum(a * 0.5 * math.erfc((r[1] - x) / r[2] / math.sqrt(2)) for a, r in zip(p, rows))
    mu = [quantile(cdf, q, -200, 200) for q in (0.025, 0.5, 0.975)]
    def tq(q):
        c = 0
        for a, r in zip(p, rows):
            c += a
            if c >= q: return r[0]
    return mu, [tq(q) for q in (0.025, 0.5, 0.975)]
for scale in (25, 5):
    print(scale, run(scale))
