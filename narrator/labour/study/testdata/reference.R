# Prints what R makes of random times, one figure a line: case, figure, values. Rscript reference.R > reference.txt
set.seed(20000101)
show <- function(case, what, values) cat(case, what, sprintf("%.12g", values), "\n")
for (n in c(3, 4, 5, 6, 7, 8, 12, 30)) {
  x <- round(20 * exp(0.3 * rnorm(n)), 3)
  case <- paste0("times-", n)
  show(case, "times", x)
  show(case, "median", median(x))
  show(case, "quartiles", quantile(x, c(0.25, 0.75), type = 7))
  p <- predict(lm(log(x) ~ 1), newdata = data.frame(row.names = 1), interval = "prediction", level = 0.8)
  show(case, "next", exp(p[1, c("lwr", "upr")]))
  m <- mean(log(x)); s <- sd(log(x)) * sqrt(1 + 1 / n)
  show(case, "beat-20", pt((log(20) - m) / s, n - 1))
  show(case, "quote-80", exp(m + s * qt(0.8, n - 1)))
  show(case, "niebel", ceiling((qt(0.975, n - 1) * sd(x) / (0.1 * mean(x)))^2))
}
for (n in c(3, 6, 12, 40)) {
  run <- 1:n
  y <- round(60 * run^log2(0.85) * exp(0.08 * rnorm(n)), 3)
  case <- paste0("runs-", n)
  fit <- lm(log(y) ~ log(run))
  show(case, "times", y)
  show(case, "curve", c(exp(coef(fit)[1]), coef(fit)[2], 2^coef(fit)[2], 2^confint(fit)[2, ], summary(fit)$r.squared))
}
# Michelson's 100 measurements of 1879 as R carries them (datasets::morley): the data of NIST StRD Michelso, in 1000 km/s.
show("michelso", "times", (299000 + datasets::morley$Speed) / 1000)
