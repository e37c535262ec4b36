/* Residuals: what two readings, or a reading and the model, differ by, in standard deviations.
 *
 * X(identifier, k, k_step, most, word). k [1]: what class and model may make of a healthy plant; k_step [1]: the same for a
 * change within half an hour, 0: only the value itself counts; most: the largest constant difference, in the unit of the
 * residual, that commissioning takes for how the plant is built (ranges of the plant file and classes of the instruments),
 * 0: none. Bits of ctl_outputs.unexplained in this order. Cells have k = 6 (48 mV): their spread, and 1.4 mV/K of
 * thermocouples that walk by 3 K in 1000 h, so 10 K in 10 000 h, are no fault of a cell or a tap; a change is.
 */
#ifndef DUSKLINE_CONTROLLER_RESIDUALS_H
#define DUSKLINE_CONTROLLER_RESIDUALS_H

/* clang-format off */
#define CTL_RESIDUAL_LIST(X)                                                    \
  X(feed_compressor, 3.0f, 2.0f, 0.4f, "feed meter over compressor")            \
  X(feed_aperture, 3.0f, 2.0f, 0.2f, "feed meter over exhaust aperture")        \
  X(compressor_aperture, 3.0f, 2.0f, 0.0f, "compressor over exhaust aperture")  \
  X(line, 3.0f, 2.0f, 1.2f, "plenum pressure over that of the feed line")       \
  X(product_faraday, 3.0f, 2.0f, 0.05f, "product meter over Faraday's law")     \
  X(product_aperture, 3.0f, 2.0f, 0.25f, "product meter over product aperture") \
  X(faraday_aperture, 3.0f, 2.0f, 0.0f, "Faraday's law over product aperture")  \
  X(outlet_co, 3.0f, 2.0f, 0.08f, "CO analyser over carbon balance")            \
  X(purity, 3.0f, 2.0f, 0.01f, "oxygen analyser over expected purity")          \
  X(current, 4.0f, 0.0f, 0.0f, "current over its command")                      \
  X(voltage, 3.0f, 2.0f, 3.0f, "mean cell voltage over the model")              \
  X(power, 3.0f, 2.0f, 0.6f, "bus power over the sum of its parts")             \
  X(speed, 4.0f, 0.0f, 0.0f, "compressor speed over its command")               \
  X(tone, 4.0f, 0.0f, 0.7f, "bearing tone over that of the bearing as it is")   \
  X(end_0, 6.0f, 2.0f, 25.0f, "end plate 1 over its zone and heater")           \
  X(end_1, 6.0f, 2.0f, 25.0f, "end plate 2 over its zone and heater")           \
  X(preheater, 3.0f, 2.0f, 40.0f, "preheater over the stack mean")              \
  X(filter, 3.0f, 2.0f, 2.0f, "filter difference over that of a clean filter")  \
  X(zone_0, 3.0f, 2.0f, 15.0f, "zone 1 over its neighbours")                    \
  X(zone_1, 3.0f, 2.0f, 15.0f, "zone 2 over its neighbours")                    \
  X(zone_2, 3.0f, 2.0f, 15.0f, "zone 3 over its neighbours")                    \
  X(zone_3, 3.0f, 2.0f, 15.0f, "zone 4 over its neighbours")                    \
  X(zone_4, 3.0f, 2.0f, 15.0f, "zone 5 over its neighbours")                    \
  X(taps, 3.0f, 2.0f, 0.002f, "sum of the cell voltages over that of the stack") \
  X(cell_0, 6.0f, 2.0f, 0.05f, "cell 1 over the others")                        \
  X(cell_1, 6.0f, 2.0f, 0.05f, "cell 2 over the others")                        \
  X(cell_2, 6.0f, 2.0f, 0.05f, "cell 3 over the others")                        \
  X(cell_3, 6.0f, 2.0f, 0.05f, "cell 4 over the others")                        \
  X(cell_4, 6.0f, 2.0f, 0.05f, "cell 5 over the others")                        \
  X(cell_5, 6.0f, 2.0f, 0.05f, "cell 6 over the others")                        \
  X(cell_6, 6.0f, 2.0f, 0.05f, "cell 7 over the others")                        \
  X(cell_7, 6.0f, 2.0f, 0.05f, "cell 8 over the others")
/* clang-format on */

#endif
