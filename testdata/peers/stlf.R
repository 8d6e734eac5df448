# Scores a peer on the forecasts that `recoat backtest --forecasts` wrote:
# stlf of the R package forecast (STL decomposition, ETS on the rest), trained
# on up to 14 days of hourly means, from the same origins to the same targets.
#
#   Rscript stlf.R READINGS.csv FORECASTS.csv
#
# Prints, for each quantity and lead, the mean pinball loss over the quantiles
# 0.1, 0.5 and 0.9 and how often the 80 % interval held, of both.
suppressMessages(library(forecast))

paths <- commandArgs(trailingOnly = TRUE)
if (length(paths) != 2) stop("give the readings and the forecasts: Rscript stlf.R READINGS.csv FORECASTS.csv")
instant <- function(text) as.numeric(as.POSIXct(text, format = "%Y-%m-%dT%H:%M:%SZ", tz = "UTC"))

readings <- read.csv(paths[1])
readings$at <- instant(readings$time)
gamma <- log(readings$rh_pct / 100) + 17.62 * readings$air_c / (243.12 + readings$air_c)  # Magnus, Sonntag 1990
readings$dew_point <- 243.12 * gamma / (17.62 - gamma)
readings$air <- readings$air_c

issued <- read.csv(paths[2])
issued$from <- instant(issued$issued_at)
issued$lead <- round((instant(issued$target_at) - issued$from) / 3600)
issued <- issued[issued$quantity %in% c("air", "dew_point"), ]

# hourly returns the means of the hours that end at an instant, oldest first,
# with short gaps filled in straight.
hourly <- function(quantity, end, days = 14) {
  known <- readings[readings$at < end & readings$at >= end - days * 86400, ]
  age <- floor((end - known$at - 1e-6) / 3600)
  means <- tapply(known[[quantity]], age, mean)
  hours <- rep(NA_real_, max(age) + 1)
  hours[as.integer(names(means)) + 1] <- means
  as.numeric(na.interp(rev(hours)))
}

pinball <- function(truth, said, p) ifelse(truth >= said, p * (truth - said), (1 - p) * (said - truth))
loss <- function(truth, low, middle, high)
  (pinball(truth, low, 0.1) + pinball(truth, middle, 0.5) + pinball(truth, high, 0.9)) / 3

for (quantity in unique(issued$quantity)) {
  rows <- issued[issued$quantity == quantity, ]
  for (origin in unique(rows$from)) {
    ours <- which(rows$from == origin)
    peer <- stlf(ts(hourly(quantity, origin), frequency = 24), h = 48, level = 80, method = "ets")
    lead <- rows$lead[ours]
    rows[ours, c("low", "middle", "high")] <- cbind(peer$lower[lead, 1], peer$mean[lead], peer$upper[lead, 1])
  }
  for (lead in sort(unique(rows$lead))) {
    r <- rows[rows$lead == lead, ]
    cat(sprintf("%-9s %2d h  n %4d  recoat %.4f (held %.3f)  stlf %.4f (held %.3f)\n", quantity, lead, nrow(r),
      mean(loss(r$observed, r$p10, r$p50, r$p90)), mean(r$observed >= r$p10 & r$observed <= r$p90),
      mean(loss(r$observed, r$low, r$middle, r$high)), mean(r$observed >= r$low & r$observed <= r$high)))
  }
}
