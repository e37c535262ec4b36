/// Defaults and ranges of the parameters.
#pragma once

#include "controller/include/controller.h"

namespace duskline::controller {

/// Every value finite and inside its range; the law known; the table of the fixed law usable.
bool valid_params(const ctl_params& p);

}  // namespace duskline::controller
